"""The figures that explain what tailrace computes: what each shows, in numbers and words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tailrace.quantities.arrays import FloatArray
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.gallery.exhibit import Exhibit


@dataclass(frozen=True)
class Entry:
    """One row of the table of figures: where its numbers are made, and what it shows, for a list.

    ``of_instrument``: whether it shows an instrument, and so heeds a scenario; ``varied``: the kind
    of quantity that it varies, empty where its values are fixed; ``most``: values there may be.
    """

    module: str
    line: str
    of_instrument: bool = False
    varied: str = ""
    most: int = 6


ENTRIES = {
    "plume": Entry("tubes", "a band in a tube, and the signal that leaves it", of_instrument=True),
    "outlet-signals": Entry(
        "tubes", "what leaves a tube, at Fourier numbers from 0.01 to 10", varied="number", most=7
    ),
    "fourier-number": Entry(
        "tubes", "how far a tube's peak is from a Gaussian, exact and simulated"
    ),
    "time-constants": Entry(
        "plates", "a peak through a series of time constants", True, "response time", 5
    ),
    "noise": Entry(
        "noise", "noise and height of a peak against the time constant", True, "response time", 40
    ),
    "cell-volumes": Entry("plates", "a peak through a series of flow cells", True, "volume"),
    "straight-bent-coiled": Entry(
        "bent_tubes", "a tube laid straight, bent and coiled, and the flow in it"
    ),
    "joint": Entry("tubes", "a gap in a joint, and its unswept pocket"),
    "retention": Entry("plates", "plates against retention, four columns", True, "number", 40),
    "plate-height": Entry(
        "plates", "plate height against flow, alone and recorded", True, "flow rate", 40
    ),
    "staircase": Entry("plates", "from the column's plates to those recorded", of_instrument=True),
    "sum-of-variances": Entry(
        "variances", "the sum of variances against simulation", of_instrument=True
    ),
}
"""A new figure is a line here, a function of its name, and one in ``figures/gallery.py``."""


def compute(
    name: str,
    scenario: Scenario | None = None,
    *,
    solute: str | None = None,
    tube: str | None = None,
    values: str | None = None,
    engine: str = "product",
) -> Exhibit:
    """Compute one figure.

    Raises StudyError for another name, for a scenario that the figure cannot be made of, and for
    values where it takes none.

    Parameters
    ----------
    name : str
        Of ENTRIES.
    scenario : Scenario, optional
        The instrument that is shown, where the figure shows one; else the gallery's own.
    solute, tube : str, optional
        Which of it: left out, the least retained solute and the first tube.
    values : str, optional
        Of what the figure varies: ``2, 5, 10 uL`` or ``2 .. 10 uL, 5 points``.
    engine : str
        ``product``: figures of many paths multiply transfer functions; ``march``: all is marched.
    """
    from tailrace.studies.gallery.instrument import Asked

    checked([name])
    module = import_module(f"tailrace.studies.gallery.{ENTRIES[name].module}")
    varied = _values(name, values)
    asked = Asked(scenario=scenario, solute=solute, tube=tube, values=varied, engine=engine)
    result: Exhibit = getattr(module, name.replace("-", "_"))(asked)
    return result


def _values(name: str, text: str | None) -> FloatArray | None:
    if text is None:
        return None
    from tailrace.scenario.target import StudyError, Target
    from tailrace.studies.axes import numbers

    entry = ENTRIES[name]
    if not entry.varied:
        takers = [other for other, one in ENTRIES.items() if one.varied]
        raise StudyError(
            f"values: expected a figure that takes them, found {name}; choose from "
            f"{', '.join(takers)}"
        )
    found = numbers(Target(name="values", place=(), kind=entry.varied), text)
    if not 1 <= len(found) <= entry.most or min(found) <= 0:
        raise StudyError(
            f"values: expected 1 to {entry.most} above zero for the figure {name}, found "
            f"{len(found)} from {min(found):g}; change them"
        )
    return found


def checked(names: Sequence[str]) -> tuple[str, ...]:
    """Return the names (sequence of str), all there are if it is empty, each once.

    Raises StudyError where one is not in ENTRIES.
    """
    for name in names:
        if name not in ENTRIES:
            from tailrace.scenario.target import StudyError  # a list of names needs no parts

            raise StudyError(
                f"expected names of figures, found {name[:60]!r}; choose from {', '.join(ENTRIES)}"
            )
    return tuple(dict.fromkeys(names)) or tuple(ENTRIES)
