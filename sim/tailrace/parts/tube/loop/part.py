"""A loop that is filled with sample, wholly or in part, and emptied by the stream."""

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Part, Passage
from tailrace.parts.tube.part import Tube
from tailrace.quantities.arrays import FloatArray, Number
from tailrace.quantities.checks import checked, one_of
from tailrace.quantities.kinds import show

BACKWARDS, FORWARDS = "backwards", "forwards"
POINTS_PER_FILLING = 128


@dataclass(frozen=True, kw_only=True)
class Loop(Part):
    """The band as it leaves the loop, one unit of amount; times count from the switch of the valve.

    Parameters
    ----------
    volume : scalar or (lanes,) array, m^3
        Filled with sample, evenly over the section.
    bore, length : scalar or (lanes,) array, m
        Of the whole loop.
    emptied : "backwards" or "forwards"
        Backwards: what was filled last leaves first, and nothing passes the rest of the loop.
        Forwards: it passes the rest. A full loop knows no difference.
    """

    name: str = "injection"
    volume: Number
    bore: Number
    length: Number
    emptied: str = BACKWARDS

    kind = "loop"
    faults = ("volume",)
    injects = True
    carries_flow = False
    edged = True

    def __post_init__(self) -> None:
        """Refuse sizes that no loop has."""
        checked(self)
        one_of(self, "emptied", (BACKWARDS, FORWARDS))

    @property
    def whole(self) -> Number:
        """Volume of the loop, m^3."""
        return np.pi / 4 * np.square(self.bore) * self.length

    def ways(self) -> tuple[FloatArray, FloatArray]:
        """How much loop first and last of the sample pass. Scalars or (lanes,) arrays, m."""
        filled = self.length * np.asarray(self.volume) / self.whole
        last = filled if self.emptied == BACKWARDS else np.broadcast_to(self.length, filled.shape)
        # a full loop to rounding
        first = np.where(last - filled > 1e-9 * last, last - filled, 0.0)
        return first, last

    def tube(self, length: Number) -> Tube:
        """So much of the loop."""
        return Tube(name=self.name, bore=self.bore, length=length)

    def duration(self, stream: Stream) -> FloatArray:
        """Time in which so much is pumped as was filled. (lanes,) array, s."""
        return self.volume / np.asarray(stream.flow_rate, dtype=float)

    def detail(self, stream: Stream) -> FloatArray:
        """Time step that the band takes itself. Scalar or (lanes,) array, s."""
        return self.duration(stream) / POINTS_PER_FILLING

    def coarsest(self, stream: Stream) -> FloatArray:
        """It comes out of a march, which does not keep moments at any step."""
        return 2 * self.detail(stream)

    def residence(self, stream: Stream) -> FloatArray:
        """Zero: times are counted from the start of the injection. (lanes,) array, s."""
        return np.zeros(np.shape(stream.flow_rate))

    def refused(self, stream: Stream) -> tuple[str, str] | None:
        """More sample than the loop holds."""
        if np.all(np.asarray(self.volume) <= self.whole * (1 + 1e-6)):
            return None
        filled, whole = (show(float(np.max(one)), "volume") for one in (self.volume, self.whole))
        needed = float(np.max(np.asarray(self.length) * self.volume / self.whole))
        return "volume", (
            f"expected at most the {whole} that the loop holds, found {filled}; fill less, or "
            f"give a longer one: {show(1.001 * needed, 'length')} of this bore hold it"
        )

    def no_transfer(self, stream: Stream) -> str:
        """Of ways through the loop that are longer or shorter than tubes are tabulated."""
        for way in self.ways():
            if np.any(way > 0) and (reason := self.tube(way).no_transfer(stream)):
                return reason
        return ""

    def as_factor(self, stream: Stream, mean: Number = 0.0, variance: Number = 0.0) -> Passage:
        """Emptied backwards, in a stream in which its way is tabulated."""
        if not self.no_transfer(stream):
            return self, stream
        _, last = self.ways()
        return replace(self, emptied=BACKWARDS), self.tube(last).as_factor(stream)[1]

    def assumptions(self, given: Collection[str]) -> list[str]:
        """How the loop is filled and lies."""
        found = ["the loop is filled evenly over its section and taken as straight; its pressure "
                 "is left out"]  # fmt: skip
        if "strong" in given:
            found.append("the sample's solvent leaves it as a plug of the volume that is filled")
        if not {"loop_length", "loop_volume"} & set(given):
            whole = show(float(np.max(self.length)), "length", 3)
            found.append(f"the sample fills the loop, {whole} of its bore, none given")
        elif "emptied" not in given and np.any(np.asarray(self.volume) < 0.999 * self.whole):
            found.append("the loop is emptied backwards, so that the rest of it is not passed")
        return found
