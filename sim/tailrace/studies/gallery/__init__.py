"""The figures that explain what tailrace computes: what each shows, in numbers and words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING

from tailrace.scenario.target import StudyError

if TYPE_CHECKING:
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.gallery.exhibit import Exhibit


@dataclass(frozen=True)
class Entry:
    """One row of the table of figures: where its numbers are made, and what it shows, for a list.

    ``of_instrument``: whether it shows an instrument, and so heeds a scenario.
    """

    module: str
    line: str
    of_instrument: bool = False


ENTRIES = {
    "plume": Entry("tubes", "a band in a tube, and the signal that leaves it", of_instrument=True),
    "outlet-signals": Entry("tubes", "what leaves a tube, at Fourier numbers from 0.01 to 10"),
    "fourier-number": Entry(
        "tubes", "how far a tube's peak is from a Gaussian, exact and simulated"
    ),
    "time-constants": Entry(
        "plates", "a peak through a series of time constants", of_instrument=True
    ),
    "cell-volumes": Entry("plates", "a peak through a series of flow cells", of_instrument=True),
    "straight-bent-coiled": Entry(
        "bent_tubes", "a tube laid straight, bent and coiled, and the flow in it"
    ),
    "joint": Entry("tubes", "a gap in a joint, and its unswept pocket"),
    "retention": Entry("plates", "plates against retention, four columns", of_instrument=True),
    "plate-height": Entry(
        "plates", "plate height against flow, alone and recorded", of_instrument=True
    ),
    "staircase": Entry("plates", "from the column's plates to those recorded", of_instrument=True),
    "sum-of-variances": Entry(
        "variances", "the sum of variances against simulation", of_instrument=True
    ),
}
"""A new figure is a line here, a function of its name, and one in ``figures/gallery.py``."""


def compute(name: str, scenario: Scenario | None = None) -> Exhibit:
    """Compute one figure.

    ``name``: of ENTRIES; ``scenario``: the instrument that is shown, where the figure shows one;
    else the gallery's own. Raises StudyError for another name, or a scenario that the figure cannot
    be made of.
    """
    checked([name])
    module = import_module(f"tailrace.studies.gallery.{ENTRIES[name].module}")
    made: Exhibit = getattr(module, name.replace("-", "_"))(scenario)
    return made


def checked(names: Sequence[str]) -> tuple[str, ...]:
    """Return the names (sequence of str), all there are if it is empty, each once.

    Raises StudyError where one is not in ENTRIES.
    """
    for name in names:
        if name not in ENTRIES:
            raise StudyError(
                f"expected names of figures, found {name[:60]!r}; choose from {', '.join(ENTRIES)}"
            )
    return tuple(dict.fromkeys(names)) or tuple(ENTRIES)
