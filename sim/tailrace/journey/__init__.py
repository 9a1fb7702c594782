"""A journey: what is travelled, how it is travelled, and what it says."""

from collections.abc import Callable

from tailrace.journey.itinerary import Itinerary
from tailrace.journey.result import PartResult, Pressure, Result

__all__ = ["Itinerary", "PartResult", "Pressure", "Result", "travel"]


def travel(
    itinerary: Itinerary,
    progress: Callable[[int, int], object] | None = None,
    *,
    blame: bool = False,
) -> Result:
    """Make a journey; see ``tailrace.journey.travelling``. Loads the kernels when first used."""
    from tailrace.journey.travelling import travel as make

    return make(itinerary, progress, blame=blame)
