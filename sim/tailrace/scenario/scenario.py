"""``Scenario``: a checked scenario file, ready to be travelled."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tailrace.display import Displayed
from tailrace.journey.itinerary import Itinerary
from tailrace.scenario.model import Document
from tailrace.scenario.problems import Problem


@dataclass(frozen=True, kw_only=True)
class Scenario(Displayed):
    """What a scenario file says. Made by ``load_scenario``.

    Parameters
    ----------
    title : str
        The file's name where it gives none.
    path : pathlib.Path
    sha256 : str
        Of the bytes of the file.
    text : str
        What stands in the file.
    document : Document
        Its tables; quantities in SI.
    curve : tuple of two (points,) arrays, s and any unit, or None
        The injected signal where it came from a file.
    """

    title: str
    path: Path
    sha256: str
    text: str
    document: Document
    curve: tuple[np.ndarray, np.ndarray] | None = None

    def itinerary(self) -> Itinerary:
        """Return the parts in order, each with the stream that passes it; lanes are the solutes.

        Raises
        ------
        PartError
            Where the eluent room has no correlation; ``load_scenario`` has tried it already.
        """
        from tailrace.scenario.build import itinerary

        return itinerary(self)

    def assumptions(self) -> list[str]:
        """Return one sentence for each default or estimate that a run rests on."""
        from tailrace.scenario.assumptions import assumptions

        return assumptions(self)

    def unsupported(self) -> list[Problem]:
        """Return what the eluent room cannot answer for this method and path."""
        from tailrace.scenario.build import unsupported

        return unsupported(self)
