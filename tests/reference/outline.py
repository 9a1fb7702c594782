"""A peak's outline read by scipy's splines and root finder: what ``measures/outlines.py`` must say.

Between samples the outline is a cubic spline (error 5/384 of the step to the fourth power times
the fourth derivative). Times count from the start of the injection.
"""

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq

from tailrace.errors import MeasureError
from tailrace.measures.shape import (
    FEWEST_SAMPLES,
    FIVE_SIGMA_LEVEL,
    FOOT,
    HALF_HEIGHT,
    MARGIN,
)  # fmt: skip
from tailrace.signals.band import Band


class Outline:
    """One lane's peak, joined by a cubic spline.

    Raises MeasureError for a band with fewer than four samples, or with no positive one: record
    more densely.
    """

    def __init__(self, band: Band, lane: int = 0) -> None:
        values, start, step = band.values[lane], band.start[lane], band.step[lane]
        top = int(np.argmax(values))
        if not values[top] > 0:
            raise MeasureError(
                "a signal that is nowhere positive cannot be measured: it has no peak"
            )
        if np.count_nonzero(values) < FEWEST_SAMPLES:
            raise MeasureError(
                f"a peak of {np.count_nonzero(values)} points cannot be measured: "
                f"{FEWEST_SAMPLES} or more are needed, use a shorter interval between points"
            )
        low = np.flatnonzero(values < FOOT * values[top])
        first = low[np.searchsorted(low, top) - 1] if low.size and low[0] < top else 0
        last = low[np.searchsorted(low, top)] if low.size and low[-1] > top else values.size - 1
        first, last = first - MARGIN, last + MARGIN + 1
        inside = values[max(first, 0) : last]
        padding = max(-first, 0), max(last - values.size, 0)
        self.samples = np.pad(inside, padding)
        self.times = start + step * (first + np.arange(self.samples.size))
        self.curve = CubicSpline(self.times, self.samples)
        self._flanks: dict[float, tuple[float, float]] = {}  # several metrics ask for one
        self.apex: float = self._crest(top - first)
        self.height: float = self._at(self.apex)

    def _at(self, time: float, slope: bool = False) -> float:
        """The spline at one time, or its slope; many times faster than a call of scipy's object."""
        interval = int((time - self.times[0]) / (self.times[1] - self.times[0]))
        interval = min(max(interval, 0), self.times.size - 2)
        a, b, c, d = self.curve.c[:, interval].tolist()
        x = float(time - self.times[interval])
        return float((3 * a * x + 2 * b) * x + c if slope else ((a * x + b) * x + c) * x + d)

    def _crest(self, top: int) -> float:
        """Time of the spline's maximum, in one of the two intervals beside the largest sample."""
        crests = [self.times[top]]
        for interval in (top - 1, top):
            a, b, c = self.curve.c[:3, interval] * (3.0, 2.0, 1.0)
            root = b * b - 4 * a * c
            if root < 0 or b == 0:
                continue
            offset = -2 * c / (b - np.sqrt(root)) if b < 0 else np.inf
            if 0 <= offset <= self.times[interval + 1] - self.times[interval]:
                crests.append(self.times[interval] + offset)
        return float(max(crests, key=self._at))

    def flanks(self, fraction: float) -> tuple[float, float]:
        """Times at which the peak first falls to a fraction of its height.

        Raises MeasureError if a flank does not reach down so far, or the fraction is not one.

        Parameters
        ----------
        fraction : float, 1
            Above 0 and below 1.

        Returns
        -------
        front, tail : float, s
        """
        if not 0 < fraction < 1:
            raise MeasureError(
                f"expected a fraction of the height between 0 and 1, found {fraction}"
            )
        if fraction not in self._flanks:
            self._flanks[fraction] = self._flanks_at(fraction)
        return self._flanks[fraction]

    def _flanks_at(self, fraction: float) -> tuple[float, float]:
        level = fraction * self.height
        below = np.flatnonzero(self.samples < level)
        before, after = below[self.times[below] < self.apex], below[self.times[below] > self.apex]
        if not before.size or not after.size:
            raise MeasureError(
                f"the peak at {self.apex:.4g} s does not fall to {100 * fraction:.3g} % of its "
                "height on both sides: there is no such width"
            )
        front, tail = before[-1], after[0]
        return (
            self._crossing(front, level, self.times[front], min(self.times[front + 1], self.apex)),
            self._crossing(tail - 1, level, self.times[tail], max(self.times[tail - 1], self.apex)),
        )

    def _crossing(self, interval: int, level: float, under: float, over: float) -> float:
        """Time in an interval, between one below the level and one above, at which they meet."""
        a, b, c, d = self.curve.c[:, interval].tolist()
        start, d = float(self.times[interval]), d - level

        def excess(time: float) -> float:
            return float(((a * time + b) * time + c) * time + d)

        return start + float(brentq(excess, float(under) - start, float(over) - start, xtol=1e-14))

    def width(self, fraction: float) -> float:
        """Full width at a fraction of the height. float, s; raises MeasureError."""
        front, tail = self.flanks(fraction)
        return tail - front

    def tailing(self, fraction: float = 0.05) -> float:
        """Symmetry factor W / (2 f) (USP <621>, Ph. Eur. 2.2.46). float, 1."""
        front, tail = self.flanks(fraction)
        return (tail - front) / (2 * (self.apex - front))

    def asymmetry(self, fraction: float = 0.10) -> float:
        """Tail half-width over front half-width, b/a. float, 1; raises MeasureError."""
        front, tail = self.flanks(fraction)
        return (tail - self.apex) / (self.apex - front)

    def plates(self) -> float:
        """Plates by width at half height, 8 ln 2 (t/W)^2. float, 1; raises MeasureError."""
        return HALF_HEIGHT * (self.apex / self.width(0.5)) ** 2

    def plates_five_sigma(self) -> float:
        """Plates by width at 4.4 % of the height, 25 (t/W)^2. float, 1; raises MeasureError."""
        return 25 * (self.apex / self.width(FIVE_SIGMA_LEVEL)) ** 2

    def plates_tangent(self) -> float:
        """Plates by the tangents where each flank is steepest, 16 (t/W)^2. float, 1."""
        last = 2 * self.curve.c[1, -1] + 6 * self.curve.c[0, -1] * (self.times[-1] - self.times[-2])
        bend = np.append(2 * self.curve.c[1], last)
        changes = np.flatnonzero(bend[:-1] * bend[1:] < 0)
        share = bend[changes] / (bend[changes] - bend[changes + 1])
        turns = self.times[changes] + share * (self.times[changes + 1] - self.times[changes])
        front, tail = turns[turns < self.apex], turns[turns > self.apex]
        if not front.size or not tail.size:
            raise MeasureError("the peak has no inflection point on one side: no tangent plates")
        steepest = (
            max(front, key=lambda at: self._at(at, slope=True)),
            min(tail, key=lambda at: self._at(at, slope=True)),
        )
        feet = [at - self._at(at) / self._at(at, slope=True) for at in steepest]
        return float(16 * (self.apex / (feet[1] - feet[0])) ** 2)


def read(spectrum, deviation, mean, highest):
    """Apex, width at half height and tailing at 5 % from a spectrum, by Newton's method."""
    omega = np.linspace(0.0, highest / deviation, 40 * highest)
    values = spectrum(omega)
    values[0] /= 2

    def at(time, order=0):
        return float(np.sum(values * (1j * omega) ** order * np.exp(1j * omega * time)).real)

    def root(time, order, level=0.0):
        for _ in range(30):
            step = (at(time, order) - level) / at(time, order + 1)
            time -= step
            if abs(step) < 1e-14 * mean:
                return time
        return time

    times = mean + deviation * np.linspace(-4, 6, 400)
    curve = np.array([at(one) for one in times])
    apex = root(times[np.argmax(curve)], 1)
    top, found = at(apex), []
    for share in (0.5, 0.05):
        above = np.flatnonzero(curve > share * top)
        found.append([root(times[end], 0, share * top) for end in above[[0, -1]]])
    (front, tail), (early, late) = found
    return np.array([apex, tail - front, (late - early) / (2 * (apex - early))])
