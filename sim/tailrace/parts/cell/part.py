"""The flow cell of the detector."""

from collections.abc import Collection
from dataclasses import dataclass

from tailrace.parts.base import Stirred
from tailrace.quantities.arrays import Number


@dataclass(frozen=True, kw_only=True)
class Cell(Stirred):
    """A flow cell mixed as ``tanks`` equal stirred tanks, one after the other.

    Parameters
    ----------
    volume : scalar or (lanes,) array, m^3
    tanks : float, 1
        1 or more; need not be whole with ``read = "outlet"``.
    read : str
        ``outlet``: the liquid that leaves the last tank is seen. ``mean``: the light beam sees
        the mean over the tanks.
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
    observes = True

    def assumptions(self, given: Collection[str]) -> list[str]:
        """Tanks, light path and light beam, where they are not given."""
        found = {
            "tanks": "1 tank (mixed throughout), none given",
            "light_path": "no light path given; signals are compared by concentration alone",
            "read": "the light beam sees the liquid that leaves",
        }
        return [sentence for key, sentence in found.items() if key not in given]
