"""A chamber: any mixed volume that is not the cell (valve groove, inline filter, mixer)."""

from collections.abc import Collection
from dataclasses import dataclass, replace

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Doubt, Stirred
from tailrace.quantities.arrays import Number

MANY_TANKS = 10.0


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
    faults = ("volume",)

    def doubts(self, given: Collection[str], stream: Stream) -> list[Doubt]:
        """How it is mixed: one tank, or next to none."""
        if "tanks" in given:
            return []
        return [
            Doubt(
                taken=f"one mixed tank, and not {MANY_TANKS:.0f} in series",
                settled="the peak of a union in place of the column with and without it",
                others=(replace(self, tanks=MANY_TANKS),),
            )
        ]

    def assumptions(self, given: Collection[str]) -> list[str]:
        """Tanks, where they are not given."""
        return [] if "tanks" in given else ["1 tank (mixed throughout), none given"]
