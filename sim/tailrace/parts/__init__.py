"""The kinds of things that a band passes, one folder each; strangers to each other."""

from dataclasses import dataclass
from importlib import import_module


@dataclass(frozen=True)
class Kind:
    """One row of the table of kinds: where a part's theory and march are found.

    ``spectral`` says that the folder holds a second way through the part, ``spectral.py``. A part
    with a ``manner`` has modules of that name: ``gradient_theory.py``, ``gradient_march.py``.
    Modules are imported when used, so that reading a scenario does not load a compiler.
    """

    folder: str
    spectral: bool = False

    def theory(self, part, stream):
        """Closed form of what the part adds. Part, Stream in, Cumulants out."""
        return self._module(part, "theory").theory(part, stream)

    def march(self, part, stream, band, resolution):
        """Send a band through the part. Part, Stream, Band, Resolution in, Band out."""
        way = "spectral" if self.spectral and resolution.solver == "spectral" else "march"
        return self._module(part, way).march(part, stream, band, resolution)

    def recorded(self, part, band):
        """What is written down behind the part: for a detector its points, else the band."""
        if self.folder != "detector":
            return band
        return import_module("tailrace.parts.detector.march").recorded(part, band)

    def _module(self, part, name):
        manner = getattr(part, "manner", "")
        return import_module(f"tailrace.parts.{self.folder}.{manner + '_' if manner else ''}{name}")


KINDS = {
    kind.folder: kind
    for kind in (
        Kind("injector"),
        Kind("tube", spectral=True),
        Kind("fitting"),
        Kind("chamber"),
        Kind("column"),
        Kind("cell"),
        Kind("detector"),
    )
}
"""A new kind of part is a new folder and one row here."""
