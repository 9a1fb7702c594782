"""Points that are evenly spaced, as sums and splines need them, made from those that were read."""

from dataclasses import dataclass

import numpy as np

from tailrace.measurements.signal import Signal, SignalError
from tailrace.quantities.arrays import FloatArray

EVEN = 0.05
"""Share of the interval by which times may lie off an even grid and still count as even."""
GAP = 3.5
"""Intervals without a point that make a gap."""
MOST_EVEN = 4_000_000


@dataclass(frozen=True, kw_only=True)
class Even:
    """A signal at even times.

    Parameters
    ----------
    start, step : float, s
    values : (points,) array, unit of the signal
    even : bool
        Whether it was recorded so; else a cubic spline through the points was read.
    gaps : tuple of (float, float), s
        Stretches without points.
    """

    start: float
    step: float
    values: FloatArray
    even: bool
    gaps: tuple[tuple[float, float], ...] = ()

    @property
    def times(self) -> FloatArray:
        """(points,) array, s."""
        return np.asarray(self.start + self.step * np.arange(self.values.size))

    def index(self, time: float) -> int:
        """The point nearest to a time in s, within the signal."""
        nearest = round((time - self.start) / self.step)
        return int(np.clip(nearest, 0, self.values.size - 1))

    def broken(self, start: float, end: float) -> bool:
        """Whether a gap lies within a stretch of time, both in s."""
        return any(one < end and other > start for one, other in self.gaps)


def evened(signal: Signal) -> Even:
    """The signal on an even grid: its own, or one of its median interval.

    Raises SignalError where the grid would take too many points.
    """
    times, values = signal.times, signal.values
    steps = np.diff(times)
    step = float(np.median(steps))
    wide = np.flatnonzero(steps > GAP * step)
    gaps = tuple((float(times[at]), float(times[at + 1])) for at in wide)
    if not gaps:
        # written times may be rounded: the mean interval is better than any single one
        mean = float((times[-1] - times[0]) / (times.size - 1))
        off = np.abs(times - times[0] - mean * np.arange(times.size)).max()
        if off <= max(EVEN * mean, 1.01 * signal.quantum):
            return Even(start=float(times[0]), step=mean, values=values, even=True)
    count = round((times[-1] - times[0]) / step) + 1
    if count > MOST_EVEN:
        raise SignalError(
            f"{signal.name}: expected at most {MOST_EVEN} intervals between the first point and "
            f"the last, found {count}; cut out the gap"
        )
    from scipy.interpolate import CubicSpline

    grid = times[0] + step * np.arange(count)
    read = CubicSpline(times, values)(grid)
    for one, other in gaps:
        inside = (grid > one) & (grid < other)
        read[inside] = np.interp(grid[inside], times, values)
    return Even(start=float(times[0]), step=step, values=read, even=False, gaps=gaps)
