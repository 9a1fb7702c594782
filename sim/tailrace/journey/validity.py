"""Where the physics or the grid stops being sure: warnings in plain words."""

from collections.abc import Iterator

import numpy as np

from tailrace.journey.hydraulics import at_cells, thickest_of
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.result import Pressure
from tailrace.parts import part_class
from tailrace.parts.base import Passages
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band

MOST_LOST = 1e-6
ESTIMATED = 0.2
"""Within which pressures are met: a packed bed by its packing, a tube by its bore (common practice,
no source)."""
NEAR = 1 - ESTIMATED
"""Share of a limit from which it is near."""
PRESSURE_CAUTION = (
    "Do not run it: stay within the limits in the instrument's and the column's manuals, "
    "release the pressure before opening a joint, and ask a qualified person if in doubt."
)
NEAR_CAUTION = "Stay within the limits in the manuals of the instrument and the column."


def warnings_of(
    passages: Passages, itinerary: Itinerary, lost: FloatArray, band: Band, pressures: Pressure
) -> list[str]:
    """Everything that the reader of the metrics must know.

    Parameters
    ----------
    passages : sequence of (part, Stream)
    lost : (lanes,) array, 1
        What all time windows cut off.
    band : Band
        The recorded one.
    """
    cautions = foreseen(passages, itinerary, pressures)
    if np.any(np.abs(lost) > MOST_LOST):
        cautions.append(f"time windows cut off {np.max(np.abs(lost)):.1e} of the amount injected")
    return cautions + passages[-1][0].cautions_behind(band)


def foreseen(passages: Passages, itinerary: Itinerary, pressures: Pressure) -> list[str]:
    """What can be said before the journey is made; the parameters are those of ``warnings_of``."""
    cautions = [line for part, stream in passages for line in part.cautions(stream)]
    cautions += _cells_before(passages)
    return cautions + _pressure(passages, itinerary, pressures)


def _cells_before(passages: Passages) -> Iterator[str]:
    """Cells through which a band goes before it comes to the column."""
    columns = [at for at, (part, _) in enumerate(passages) if part_class(part.kind).separates]
    for at, (part, _) in enumerate(passages):
        if part.observes and columns and at < columns[-1]:
            column, behind = passages[columns[-1]][0], passages[columns[-1]][0].behind
            what = (
                f"nothing of what {column.name} does is recorded"
                if behind
                else "it broadens what enters the column"
            )
            yield (
                f"{part.name}: a cell before {column.name}, so {what}; put it behind the column "
                "if that is where it stands"
            )


def _pressure(passages: Passages, itinerary: Itinerary, pressures: Pressure) -> list[str]:
    inlets = at_cells(passages)
    most, when = thickest_of(passages), ""
    if most > 1:
        when = ", with the most viscous liquid of the programme"
    checks = [("pressure", pressures.highest, itinerary.pressure_limit)]
    checks += [
        (
            f"{part.name}: pressure at the inlet",
            most * float(inlets[part.name][0]),
            float(np.min(part.pressure_limit)),
        )
        for part, _ in passages
        if part.observes
    ]
    cautions = []
    for where, found, limit in checks:
        both = f"{where}{when}: {found / 1e5:.3g} bar, the limit is {limit / 1e5:.3g} bar"
        if found > limit:
            cautions.append(f"{both}. {PRESSURE_CAUTION}")
        elif found >= NEAR * limit:
            cautions.append(f"{both}: near it, since pressures are estimates. {NEAR_CAUTION}")
    return cautions
