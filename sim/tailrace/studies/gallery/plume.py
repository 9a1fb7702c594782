"""What is in a tube at five moments, and the signal that leaves it."""

import numpy as np

from tailrace.scenario.scenario import Scenario
from tailrace.studies.gallery.curves import points_of
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.plume import plume

LEAST = 1e-3
NAN = float("nan")
MEANINGS = {
    "time": ("s", "from the start of the injection"),
    "length": ("m", "from the inlet, middle of a section; empty for the signal"),
    "on_axis": ("1/m^3", "concentration in the innermost ring, over the amount injected"),
    "mean": ("1/m^3", "concentration, mean over the section, over the amount injected"),
    "at_wall": ("1/m^3", "concentration in the outermost ring, over the amount injected"),
    "signal": ("1/s", "at the outlet, over the amount injected; empty for the field"),
    ERROR: ("1", "amount in the tube and left, less what has entered, over that injected"),
}


def exhibit(scenario: Scenario | None = None) -> Exhibit:
    """Compute the figure for a Scenario's first tube, or for one of the gallery's own."""
    seen = plume(scenario)
    balance = np.abs(seen.held + seen.left - seen.entered)
    areas = np.diff(seen.radii**2) / seen.radii[-1] ** 2
    middle = (seen.lengths[1:] + seen.lengths[:-1]) / 2
    pieces = [
        {
            "time": time,
            "length": middle,
            "on_axis": field[0],
            "mean": areas @ field,
            "at_wall": field[-1],
            "signal": NAN,
            ERROR: error,
        }
        for time, field, error in zip(seen.times, seen.concentration, balance, strict=True)
    ]
    times, values = points_of(seen.outlet, LEAST)
    nothing = dict.fromkeys(("length", "on_axis", "mean", "at_wall"), NAN)
    pieces.append(nothing | {"time": times, "signal": values, ERROR: balance.max()})
    crest = times[np.argmax(values)]
    left = 100 * seen.left[-1]
    return Exhibit(
        name="plume",
        title="A band in a tube: fast on the axis, slow at the wall",
        caption=(
            f"Concentration in the tube “{seen.part}” (bore {1e3 * seen.bore:.3g} mm, length "
            f"{1e3 * seen.length:g} mm, Fourier number {seen.fourier_number:.2g}) at "
            f"{seen.times.size} moments, and below it the signal at its outlet. The liquid on the "
            "axis moves twice as fast as the mean, so that the signal has its maximum at "
            f"{crest:.2g} s while the residence time is {seen.residence:.2g} s, and at the last "
            f"moment, {seen.times[-1]:.2g} s, {100 - left:.2g} % are still on their way near the "
            "wall."
        ),
        alt=(
            "Sections through a tube, one below the other. A band that fills the tube's inlet is "
            "drawn out into a thin tongue along the axis, which reaches the outlet first; what is "
            "near the wall stays behind. Amount in the tube at the moments shown: "
            + ", ".join(
                f"{100 * held:.0f} % at {time:.2g} s"
                for time, held in zip(seen.times, seen.held, strict=True)
            )
            + ". Below, the outlet signal: a steep front and a long tail."
        ),
        table=table_of(MEANINGS, pieces),
        subject=seen,
    )
