"""Where the physics or the grid stops being sure: warnings in plain words."""

import numpy as np

MOST_LOST = 1e-6
NEAR = 0.8
"""Share of a limit from which it is near: a packed bed meets its estimate within about 20 %
(common practice, no source)."""
PRESSURE_CAUTION = (
    "Do not run it: stay within the limits in the instrument's and the column's manuals, "
    "release the pressure before opening a joint, and ask a qualified person if in doubt."
)
NEAR_CAUTION = "Stay within the limits in the manuals of the instrument and the column."


def warnings_of(passages, itinerary, parts, pressures):
    """Everything that the reader of the figures must know.

    Parameters
    ----------
    passages : list of (part, Stream)
    itinerary : Itinerary
    parts : tuple of PartResult
    pressures : Pressure

    Returns
    -------
    list of str
    """
    said = [line for part, stream in passages for line in part.cautions(stream)]
    said += _pressure(passages, itinerary, pressures)
    lost = sum(part.amount_lost for part in parts)
    if np.any(np.abs(lost) > MOST_LOST):
        said.append(f"time windows cut off {np.max(np.abs(lost)):.1e} of the amount injected")
    return said + passages[-1][0].cautions_behind(parts[-1].band)


def _pressure(passages, itinerary, pressures):
    checks = [("pressure", pressures.total, itinerary.pressure_limit)]
    checks += [
        (f"{part.name}: pressure at the inlet", pressures.cell_inlet, part.pressure_limit)
        for part, _ in passages
        if part.observes
    ]
    said = []
    for where, found, limit in checks:
        both = f"{where}: {found / 1e5:.3g} bar, the limit is {limit / 1e5:.3g} bar"
        if found > limit:
            said.append(f"{both}. {PRESSURE_CAUTION}")
        elif found >= NEAR * limit:
            said.append(f"{both}: near it, since pressures are estimates. {NEAR_CAUTION}")
    return said
