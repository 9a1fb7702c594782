"""A tee behind the column, where flow joins (make-up) or leaves (split)."""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Stirred
from tailrace.quantities.arrays import FloatArray, Number


@dataclass(frozen=True, kw_only=True)
class Tee(Stirred):
    """A tee, mixed as one stirred tank; behind it the flow is another.

    Parameters
    ----------
    volume : scalar or (lanes,) array, m^3
        0: it mixes at once.
    make_up : scalar or (lanes,) array, m^3/s
        Flow that joins, without solute; NaN: none.
    split : scalar or (lanes,) array, m^3/s
        Flow that leaves with what is in it; NaN: none.
    split_share : scalar or (lanes,) array, 1
        The same as a share of what arrives; NaN: none.
    """

    name: str
    volume: Number = 0.0
    make_up: Number = float("nan")
    split: Number = float("nan")
    split_share: Number = float("nan")

    kind = "tee"
    faults = ("volume",)

    def joined(self, flow: Number) -> FloatArray:
        """Flow through its volume, of that which arrives. Scalar or (lanes,) array, m^3/s."""
        return flow + np.nan_to_num(self.make_up)

    def passes_on(self, stream: Stream) -> Stream:
        """What flows behind it."""
        joined = self.joined(stream.flow_rate)
        remaining = (1 - np.nan_to_num(self.split) / joined) * (1 - np.nan_to_num(self.split_share))
        return stream.at(joined * remaining, stream.share * remaining)

    def residence(self, stream: Stream) -> FloatArray:
        """Volume over the flow through it. Scalar or (lanes,) array, s."""
        return np.asarray(self.volume / self.joined(stream.flow_rate))

    @property
    def idle(self) -> bool:
        """Whether the band leaves it as it entered."""
        return self.behind or not np.any(self.volume)

    def assumptions(self, given: Collection[str]) -> list[str]:
        """What joins, and how it mixes."""
        found = [] if "volume" in given else ["mixes at once, no volume given"]
        if "make_up" in given:
            found.append("what joins is taken as viscous as the eluent, and free of solute")
        return found
