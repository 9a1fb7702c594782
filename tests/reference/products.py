"""Random linear paths, and how far a product stands from the march in units of what may be."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.journey import Itinerary, travel
from tailrace.journey.migration import by_products
from tailrace.parts.cell.part import Cell
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.column.part import Column
from tailrace.parts.detector.part import Detector
from tailrace.parts.fitting.part import Fitting
from tailrace.parts.injector.part import Injector
from tailrace.parts.tube.part import Tube

BESIDE = 1e-5
"""Of the metric, or of the width where that is what counts: allowed beside the march's error."""


def random_path(random):
    """Ordinary dimensions, spread evenly over their logarithms; every kind and option now and then.

    Parameters
    ----------
    random : numpy.random.Generator

    Returns
    -------
    Itinerary
    """

    def between(low, high):
        return float(np.exp(random.uniform(np.log(low), np.log(high))))

    flow = between(0.1, 2.0) * 1e-6 / 60
    stream = Stream(
        flow_rate=flow,
        diffusivity=between(3e-10, 3e-9),
        viscosity=1e-3,
        retention_factor=between(0.5, 8.0),
    )
    parts = [_injector(random, between, flow)]
    for number in range(random.integers(1, 4)):
        bore, length = between(0.1e-3, 0.25e-3), between(0.05, 0.7)
        parts.append(Tube(name=f"tube {number + 1}", bore=bore, length=length))
    tanks = between(1.0, 4.0) if random.random() < 0.3 else int(random.integers(1, 4))
    parts.insert(2, Chamber(name="chamber", volume=between(0.5e-9, 10e-9), tanks=tanks))
    if random.random() < 0.5:
        unswept = random.uniform(0.0, 0.4) if random.random() < 0.5 else 0.0
        gap = Fitting(name="joint", gap_bore=1e-3, gap_length=between(1e-4, 1e-3), unswept=unswept)
        parts.insert(2, gap)
    if random.random() < 0.6:
        parts.insert(3, _column(random, between))
    parts += _recording(random, between)
    passages = tuple((part, stream) for part in parts)
    return Itinerary(lanes=("solute",), passages=passages)


def _injector(random, between, flow):
    volume = between(0.5e-9, 10e-9)
    return Injector(
        shape=str(random.choice(("plug", "washout", "gaussian"))),
        volume=volume,
        washout_volume=between(0.2e-9, 5e-9),
        sigma=volume / flow / np.sqrt(12),
    )


def _column(random, between):
    return Column(
        name="column",
        bore=2.1e-3,
        length=between(0.03, 0.15),
        particle_diameter=2.7e-6,
        plates=between(3e3, 2e4),
        head_volume=between(1e-10, 3e-9) if random.random() < 0.5 else 0.0,
        plates_include_head=False,
    )


def _recording(random, between):
    read = "mean" if random.random() < 0.3 else "outlet"
    tanks, interval = int(random.integers(1, 3)), np.nan
    if random.random() < 0.5:
        interval = between(0.005, 0.05)
    averaged = bool(np.isfinite(interval) and random.random() < 0.5)
    constant = between(0.01, 0.5)
    return [
        Cell(name="cell", volume=between(0.5e-9, 15e-9), tanks=tanks, read=read),
        Detector(time_constant=constant, interval=interval, averaged=averaged),
    ]


def apart(itinerary):
    """By metric the difference of product and march, what may be, and the march's value."""
    marched, product = travel(itinerary), by_products(itinerary)
    width = float(np.sqrt(marched.recorded["variance"][0]))
    found = {}
    for name, values in marched.recorded.items():
        value, error = float(values[0]), float(marched.numerical_error[name][0])
        size = width if name in ("apex", "mean") else abs(value)
        found[name] = (float(product.recorded[name][0]) - value, error + BESIDE * size, value)
    return found
