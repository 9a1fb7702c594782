"""What a scenario holds; ``Scenario`` adds what can be done with it."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tailrace.measures.metric import Metric
from tailrace.measures.registry import CAPACITY, METRICS, PLATES, PLATES_OWN
from tailrace.parts import part_class
from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.files import Files
from tailrace.scenario.model import Document


@dataclass(frozen=True, kw_only=True)
class Contents:
    """A scenario file and all that was read beside it.

    Parameters
    ----------
    title : str
        The file's name where it gives none.
    path : Path
        The file; of a scenario that was made in code only a name in its folder.
    sha256 : str
        Of the bytes of the file.
    text : str
        What stands in the file.
    tables : dict
        The text as ``tomllib`` reads it.
    document : Document
        The tables, checked; quantities in SI.
    """

    title: str
    path: Path
    sha256: str
    text: str
    tables: dict[str, Any]
    document: Document
    files: Files

    @property
    def has_column(self) -> bool:
        """Whether a part of the path separates."""
        return any(part_class(one.part).separates for one in self.document.path)

    @property
    def leading(self) -> Metric:
        """The metric that leads of what will be recorded."""
        if self.document.gradient is not None:
            return METRICS[CAPACITY]
        return METRICS[PLATES_OWN if self.has_column else PLATES]

    @property
    def curve(self) -> tuple[FloatArray, FloatArray] | None:
        """Times (s) and heights (any unit) of the injected signal where it is from a file."""
        name = getattr(self.document.injection, "file", None)
        return None if name is None else self.files.curve(name)
