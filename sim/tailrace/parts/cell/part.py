"""The flow cell of the detector."""

from collections.abc import Collection
from dataclasses import dataclass, replace

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Doubt, Idle, Stirred
from tailrace.quantities.arrays import Number
from tailrace.quantities.checks import one_of


@dataclass(frozen=True, kw_only=True)
class Cell(Stirred):
    """A flow cell mixed as ``tanks`` equal stirred tanks, or a tube read along its axis.

    Parameters
    ----------
    volume : scalar or (lanes,) array, m^3
    tanks : float, 1
        1 or more; need not be whole with ``read = "outlet"``.
    read : str
        ``outlet``: the liquid that leaves the last tank is seen. ``mean``: the light beam sees
        the mean over the tanks. ``axis``: the mean over all that is in it, through which the
        liquid moves on as a plug; ``tanks`` counts for nothing then.
    light_path : scalar or (lanes,) array, m
        NaN where it is not given.
    pressure_limit : scalar, Pa
        NaN where it is not given.
    """

    name: str
    volume: Number
    tanks: float = 1.0
    read: str = "outlet"
    light_path: Number = float("nan")
    pressure_limit: Number = float("nan")

    kind = "cell"
    faults = ("volume", "tanks")
    observes = True

    def __post_init__(self) -> None:
        """Refuse sizes that no cell has."""
        super().__post_init__()
        one_of(self, "read", ("outlet", "mean", "axis"))

    def doubts(self, given: Collection[str], stream: Stream) -> list[Doubt]:
        """How it is mixed: the two ends."""
        if {"tanks", "length", "read"} & set(given):
            return []
        return [
            Doubt(
                taken="one mixed tank (V^2), and not read along its axis (V^2/12)",
                settled="the tailing of the peak of a union in place of the column: a mixed cell "
                "tails, one read along its axis does not",
                others=(replace(self, read="axis"),),
            )
        ]

    def assumptions(self, given: Collection[str]) -> list[str]:
        """Tanks, light path and light beam, where they are not given."""
        found = {
            "tanks": "1 tank (mixed throughout), none given, which adds its volume squared to the "
            "variance in volume; read along its axis (give its length) it adds a twelfth of that",
            "light_path": Idle("no light path given; signals are compared by concentration alone"),
            "read": "the light beam sees the liquid that leaves",
        }
        if self.read == "axis":
            return [
                "read along its axis, its liquid moving on as a plug: V^2/12; mixing at its inlet "
                "adds to that"
            ]
        return [sentence for key, sentence in found.items() if key not in given]
