"""The kinds of things that a band passes, one folder each; strangers to each other."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Part, Passages
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.band import Band
from tailrace.signals.cumulants import Cumulants
from tailrace.signals.resolution import Resolution

if TYPE_CHECKING:
    from tailrace.parts.table import PathTable
    from tailrace.signals.elements import Elements


@dataclass(frozen=True)
class Kind:
    """One row of the table of kinds: where a part, its theory and its march are found.

    Parameters
    ----------
    name : str
        As ``[[path]]`` and results call it.
    class_name : str
        Of the part, in ``part.py``; its table in ``table.py`` is called so with "Table" behind.
    spectral : bool
        Whether the folder holds a second way through the part, ``spectral.py``.
    package : str
        The folder as it is imported; empty: the one of that name here.

    A part with a ``manner`` has modules of that name: ``gradient_theory.py``,
    ``gradient_march.py``. Modules are imported when used, so that reading a scenario does not load
    a compiler.
    """

    name: str
    class_name: str
    spectral: bool = False
    package: str = ""

    @property
    def part(self) -> type[Part]:
        """The class of the part."""
        found: type[Part] = getattr(self.module("part"), self.class_name)
        return found

    @property
    def table(self) -> "type[PathTable]":
        """Its table in ``[[path]]``; only of kinds that carry the flow."""
        found: type[PathTable] = getattr(self.module("table"), f"{self.class_name}Table")
        return found

    def theory(self, part: Part, stream: Stream, before: Passages = ()) -> Cumulants:
        """Closed form of what the part adds to the recorded band.

        ``before``: parts whose profile it takes over (``joined_to``); none: it enters mixed.
        """
        if part.behind:
            nothing = np.zeros(stream.lanes)
            return Cumulants(
                mean=nothing, gaussian_variance=nothing, variance=nothing, third=nothing
            )
        theory = self.module(_of(part, "theory")).theory
        found: Cumulants = theory(part, stream, before) if before else theory(part, stream)
        return found

    def march(self, part: Part, stream: Stream, band: Band, resolution: Resolution) -> Band:
        """Send a band through the part; behind the recording it stays as it is."""
        if part.behind:
            return band
        way = "spectral" if self.spectral and resolution.solver == "spectral" else "march"
        left: Band = self.module(_of(part, way)).march(part, stream, band, resolution)
        return left

    def transfer(
        self, part: Part, stream: Stream, omega: FloatArray, before: Passages = ()
    ) -> ComplexArray:
        """Transfer function of the part: what it makes of a unit pulse, in frequency.

        Of parts that ``no_transfer`` says nothing against; (lanes, frequencies) arrays.
        ``before``: parts whose profile it takes over: the answer is that of all together.
        """
        if part.behind:
            return np.ones_like(omega, dtype=complex)
        transfer = self.module(_of(part, "transfer")).transfer
        joined = (before,) if before else ()
        found: ComplexArray = transfer(part, stream, omega, *joined)
        return found

    def beside(
        self, part: Part, stream: Stream, before: Passages, highest: FloatArray
    ) -> Callable[[Part, int], Part]:
        """What makes of the part of so many cases beside this one, side by side, one that is as
        this one to first order; of a part that ``expands``.

        ``before``: as of ``theory``; ``highest``: frequency that matters, (lanes,) array, rad/s.
        """
        found: Callable[[Part, int], Part]
        found = self.module("beside").beside(part, stream, before, highest)
        return found

    def elements(
        self,
        part: Part,
        stream: Stream,
        omega: FloatArray,
        entering: Callable[[ComplexArray], Band],
    ) -> "Elements":
        """What stands for a transfer function of a part that ``focuses``."""
        found: Elements = self.module(_of(part, "transfer")).elements(part, stream, omega, entering)
        return found

    def recorded(self, part: Part, band: Band) -> Band:
        """What is written down behind the part: for a detector its points, else the band."""
        if not part.records:
            return band
        points: Band = self.module("march").recorded(part, band)
        return points

    def module(self, name: str) -> ModuleType:
        """A module of the folder."""
        return _module(name, self.package or f"tailrace.parts.{self.name}")


@cache
def _module(name: str, package: str) -> ModuleType:
    return import_module(f".{name}", package)


def _of(part: Part, name: str) -> str:
    return f"{part.manner}_{name}" if part.manner else name


KINDS = {
    kind.name: kind
    for kind in (
        Kind("injector", "Injector"),
        Kind("tube", "Tube", spectral=True),
        Kind("loop", "Loop", package="tailrace.parts.tube.loop"),
        Kind("fitting", "Fitting"),
        Kind("chamber", "Chamber"),
        Kind("column", "Column"),
        Kind("tee", "Tee"),
        Kind("cell", "Cell"),
        Kind("detector", "Detector"),
    )
}
"""A new kind of part is a new folder and one row here."""


def part_class(name: str) -> type[Part]:
    """The class of a kind; that of any part where no kind is called so (str)."""
    return KINDS[name].part if name in KINDS else Part
