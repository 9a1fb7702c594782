"""The injector: how the sample enters the stream."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Self

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.errors import PartError
from tailrace.parts.base import POINTS_PER_WIDTH, Doubt, Part
from tailrace.parts.injector.points import Points
from tailrace.quantities.arrays import FloatArray, Number
from tailrace.quantities.checks import checked, one_of

SHAPES = ("plug", "washout", "gaussian", "signal")
NEEDED = {"plug": ("volume",), "washout": ("volume",), "gaussian": ("sigma",), "signal": ()}
"""Fields that a shape cannot do without."""
POINTS_PER_PLUG = 64
FEWEST_STEPS, MOST_STEPS = 4, 8
"""Between points of a signal: for its noise, and for a peak of hardly more points than a width."""


@dataclass(frozen=True, kw_only=True)
class Injector(Part):
    """The band as it leaves the injector, one unit of amount, concentration against time.

    Raises PartError for a signal without area, or with too few points on its peak.

    Parameters
    ----------
    shape : str
        ``plug``: a rectangle that lasts volume / flow. ``washout``: the same rectangle, followed
        by an exponential tail with the time constant washout_volume / flow (a mixed volume,
        filled with sample, that is being rinsed). ``gaussian``: a test input centred on time
        zero. ``signal``: a curve read from a file; its moments are those of its points.
    volume : scalar or (lanes,) array, m^3
        Of the rectangle; plug and washout.
    washout_volume : scalar or (lanes,) array, m^3
    sigma : scalar or (lanes,) array, s
        Standard deviation in time; gaussian.
    signal_times, signal_heights : (points,) arrays, s and any unit
        Increasing times; signal. The area is scaled to one.
    """

    name: str = "injection"
    shape: str = "plug"
    volume: Number = float("nan")
    washout_volume: Number = 0.0
    sigma: Number = float("nan")
    signal_times: FloatArray | None = None
    signal_heights: FloatArray | None = None

    kind = "injector"
    faults = ("volume", "washout_volume", "sigma")
    injects = True
    carries_flow = False

    def __post_init__(self) -> None:
        """Refuse a shape without what it needs, and a signal that is none."""
        one_of(self, "shape", SHAPES)
        checked(self, NEEDED[self.shape])
        if self.shape != "signal":
            return
        for key in ("signal_times", "signal_heights"):
            if getattr(self, key) is not None:
                object.__setattr__(self, key, np.asarray(getattr(self, key), dtype=float))
        times, heights = self.curve
        if times.ndim != 1 or times.shape != heights.shape or not np.all(np.diff(times) > 0):
            raise PartError(
                f"{self.name}: signal_times: expected increasing times, one for each of "
                "signal_heights, found others; sort them, and give each time once"
            )
        problem = Points(times, heights).problem
        if problem:
            raise PartError(f"{self.name}: {problem}")

    def doubts(self, given: Collection[str], stream: Stream) -> list[Doubt]:
        """A plug: no injector delivers one with sharp edges."""
        if self.shape != "plug":
            return []
        return [
            Doubt(
                taken="a plug with sharp edges (V^2/12), and not one with as much rinsed out of a "
                "mixed volume",
                settled="the peak of a union in place of the column at two injected volumes",
                others=(replace(self, shape="washout", washout_volume=self.volume),),
            )
        ]

    def slower(self, times: Number) -> Self:
        """What is given in time goes on for longer; a volume does by the flow."""
        if self.shape == "signal":
            return replace(self, signal_times=self.curve[0] * float(np.max(times)))
        return replace(self, sigma=self.sigma * times)

    @property
    def curve(self) -> tuple[FloatArray, FloatArray]:
        """Times and heights of the signal: two (points,) arrays, s and any unit."""
        if self.signal_times is None or self.signal_heights is None:
            raise PartError(f"{self.name}: expected signal_times and signal_heights, found none")
        return self.signal_times, self.signal_heights

    @property
    def edged(self) -> bool:
        """Whether the band has edges."""
        return self.shape in ("plug", "washout")

    def detail(self, stream: Stream) -> Number:
        """Time step that the band takes itself. Scalar or (lanes,) array, s."""
        if self.shape == "gaussian":
            return np.asarray(self.sigma) / POINTS_PER_WIDTH
        if self.shape == "signal":
            gap, width = float(np.median(np.diff(self.curve[0]))), Points(*self.curve).width
            return gap / min(max(POINTS_PER_WIDTH * gap / width, FEWEST_STEPS), MOST_STEPS)
        return self.duration(stream) / POINTS_PER_PLUG

    def duration(self, stream: Stream) -> FloatArray:
        """Length of the rectangle in time, (lanes,) array, s; NaN for gaussian and signal."""
        return self.volume / np.asarray(stream.flow_rate, dtype=float)

    def tail(self, stream: Stream) -> Number:
        """Time constant of what is washed out behind the plug."""
        return self.washout_volume / stream.flow_rate if self.shape == "washout" else 0.0

    def residence(self, stream: Stream) -> FloatArray:
        """Zero: times are counted from the start of the injection. (lanes,) array, s."""
        return np.zeros(np.shape(stream.flow_rate))
