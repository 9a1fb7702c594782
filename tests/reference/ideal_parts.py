"""What comes back without a part's broadening, found without the code that says so in a run.

In place of a part stand a thousand tanks of its volume: the same delay, next to no broadening.
"""

from dataclasses import replace

import numpy as np

from tailrace.journey import travel
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.injector.part import Injector

TANKS = 1000.0


def plates(itinerary):
    """Recorded plates of every lane, and the journey's error of them."""
    result = travel(itinerary)
    return tuple(
        group["plates_own_retention"] for group in (result.recorded, result.numerical_error)
    )


def without(itinerary, at):
    """The same journey with a part (its place) that adds next to nothing."""
    passages = list(itinerary.passages)
    part, stream = passages[at]
    if part.records:
        delay = part.time_constant * stream.flow_rate
        passages[at] = (Chamber(name=part.name, volume=delay, tanks=TANKS), stream)
    elif part.injects:
        brief = Injector(
            name=part.name, shape="gaussian", sigma=part.volume / stream.flow_rate / 60
        )
        delay = Chamber(name="delay", volume=part.volume / 2, tanks=TANKS)
        passages[at : at + 1] = [(brief, stream), (delay, stream)]
    else:
        volume = part.volume
        passages[at] = (Chamber(name=part.name, volume=volume, tanks=TANKS), stream)
    return replace(itinerary, passages=tuple(passages))


def plates_back(itinerary):
    """By part, (lanes,) plates that come back; of all but the column."""
    base, _ = plates(itinerary)
    return {
        part.name: plates(without(itinerary, at))[0] - base
        for at, (part, _) in enumerate(itinerary.passages)
        if not part.separates
    }


def _solute(name, factor):
    return f"""[[solutes]]
name = "{name}"
retention_factor = {factor:.3g}
diffusivity = "1e-9 m^2/s"
"""


def random_instrument(seed):
    """Text of a scenario: a column on an instrument with any one of its parts bad."""
    random = np.random.default_rng(seed)

    def between(low, high):
        return low * (high / low) ** random.random()

    gap = between(0.2, 6)
    return f"""
title = "random instrument {seed}"
[method]
flow = "{between(0.1, 1.0):.4g} mL/min"
eluent = {{ water = 0.4, acetonitrile = 0.6 }}
{_solute("one", between(1, 6))}
{_solute("two", between(7, 9))}
[injection]
shape = "plug"
volume = "{between(0.3, 8):.3g} uL"
[[path]]
name = "tube to column"
part = "tube"
bore = "{between(0.08, 0.25):.3g} mm"
length = "{between(80, 500):.3g} mm"
[[path]]
name = "joint"
part = "fitting"
gap_bore = "{between(0.5, 1.6):.3g} mm"
gap_length = "{gap:.3g} mm"
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "{between(30, 150):.3g} mm"
particle_diameter = "2.7 um"
plates = {between(4000, 12000):.0f}
[[path]]
name = "tube to cell"
part = "tube"
bore = "{between(0.08, 0.25):.3g} mm"
length = "{between(80, 400):.3g} mm"
[[path]]
name = "flow cell"
part = "cell"
volume = "{between(0.5, 14):.3g} uL"
tanks = {random.integers(1, 5)}
[detector]
time_constant = "{between(0.01, 0.6):.3g} s"
interval = "10 ms"
"""
