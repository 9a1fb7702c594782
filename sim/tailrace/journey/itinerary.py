"""What is to be travelled: the parts in order, each with the stream that passes it."""

from dataclasses import dataclass, field, replace

from tailrace.display import Displayed
from tailrace.parts.base import Passage
from tailrace.quantities.arrays import IntArray
from tailrace.signals.resolution import Resolution


@dataclass(frozen=True, kw_only=True)
class Itinerary(Displayed):
    """A journey that has not been made yet.

    Parameters
    ----------
    lanes : tuple of str
        One name a lane (the solutes).
    passages : tuple of (part, Stream)
        Injector first, then the path, then the detector if there is one.
    pressure_limit : float, Pa
        NaN: none.
    versions : tuple of (lanes,) array of int, 1
        Of many instruments side by side, for each part: lanes of one number are the same. Empty:
        not known.
    solutes : int, 1
        Lanes of each of these.
    """

    lanes: tuple[str, ...]
    passages: tuple[Passage, ...]
    pressure_limit: float = float("nan")
    resolution: Resolution = field(default_factory=Resolution)
    versions: tuple[IntArray, ...] = ()
    solutes: int = 1

    def computed(self, *, accuracy: float | None = None, solver: str | None = None) -> "Itinerary":
        """The same, computed with another accuracy (1) or solver; None: as it is."""
        resolution = self.resolution
        if accuracy is not None:
            resolution = Resolution.for_accuracy(accuracy, resolution.solver)
        if solver is not None:
            resolution = replace(resolution, solver=solver)
        return replace(self, resolution=resolution)
