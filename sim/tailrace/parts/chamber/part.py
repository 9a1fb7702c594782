"""A chamber: any mixed volume that is not the cell (valve groove, inline filter, mixer)."""

from collections.abc import Collection
from dataclasses import dataclass

from tailrace.parts.base import Stirred
from tailrace.quantities.arrays import Number


@dataclass(frozen=True, kw_only=True)
class Chamber(Stirred):
    """A volume mixed as ``tanks`` equal stirred tanks, one after the other.

    Parameters
    ----------
    volume : scalar or (lanes,) array, m^3
        Of all tanks together.
    tanks : float, 1
        1 or more; need not be whole (the gamma distribution then stands between the cascades).
    """

    name: str
    volume: Number
    tanks: float = 1.0

    kind = "chamber"

    def assumptions(self, given: Collection[str]) -> list[str]:
        """Tanks, where they are not given."""
        return [] if "tanks" in given else ["1 tank (mixed throughout), none given"]
