"""The outlines of all peaks of a band at once: compiled.

Between samples an outline is the cubic spline whose third derivative does not jump at the second
sample and the last but one. Where a peak has no such number, it is NaN.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numba import njit

from tailrace.measures.shape import FEWEST_SAMPLES, FOOT, MARGIN
from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.signals.band import Band

HALVINGS = 60
ROUNDING, TINY = 1e-10, 1e-300
"""Of the height: what time windows cut off and sums round is several times less than ROUNDING."""


@dataclass(frozen=True, eq=False)
class Outlines:
    """All lanes of one band; ``elsewhere``: where apices are taken to stand, (lanes,) array, s."""

    band: Band
    elsewhere: FloatArray | None = None

    def moved(self, apices: FloatArray) -> "Outlines":
        """The same peaks with other apices, (lanes,) array, s; heights and flanks stay."""
        outlines = Outlines(self.band, apices)
        outlines.__dict__["_fit"] = self._fit
        return outlines

    @cached_property
    def _fit(self) -> tuple[IntArray, FloatArray, FloatArray, FloatArray]:
        """Window and apex of each lane, samples in it, bends of its spline, apex and height."""
        values = np.ascontiguousarray(self.band.values)
        windows = np.zeros((len(values), 3), dtype=np.int64)
        _windows(values, windows, FOOT, MARGIN, FEWEST_SAMPLES)
        width = max(int(np.max(windows[:, 1] - windows[:, 0])), 5)
        samples, bends = np.zeros((2, len(values), width))
        crests = np.full((len(values), 2), np.nan)
        _splines(values, windows, samples, bends, crests)
        return windows, samples, bends, crests

    def _time(self, place: FloatArray) -> FloatArray:
        """Times of places within the windows, counted in steps."""
        return np.asarray(self.band.start + self.band.step * (self._fit[0][:, 0] + place))

    @property
    def apex(self) -> FloatArray:
        """Time of the maximum. (lanes,) array, s."""
        return self._time(self._fit[3][:, 0]) if self.elsewhere is None else self.elsewhere

    def possible_apices(self, share: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Earliest and latest time at which apices may stand if samples are a little wrong.

        A flat top, or one that creeps up to an edge, hardly says where it is highest.

        Parameters
        ----------
        share : (lanes,) array, 1
            Error of the samples over the height, spread over times as long as the peak is wide:
            of two samples closer than that the difference is known better in proportion.

        Returns
        -------
        two (lanes,) arrays, s
        """
        windows, samples, bends, crests = self._fit
        found = np.full((len(samples), 2), np.nan)
        _possible(windows, samples, bends, crests, share, found)
        return self._time(found[:, 0]), self._time(found[:, 1])

    @property
    def height(self) -> FloatArray:
        """Of the maximum. (lanes,) array, 1/s."""
        return self._fit[3][:, 1]

    def flanks(self, fraction: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Times of front, apex and tail at a fraction of the height, from one that they share.

        Three (lanes,) arrays, s.
        """
        windows, samples, bends, crests = self._fit
        found = np.full((len(samples), 2), np.nan)
        _cross(windows, samples, bends, crests, fraction, found)
        apex, step = crests[:, 0], self.band.step
        if self.elsewhere is not None:
            apex = (self.elsewhere - self.band.start) / step - windows[:, 0]
        return found[:, 0] * step, apex * step, found[:, 1] * step

    def width(self, fraction: float) -> FloatArray:
        """Full width at a fraction of the height. (lanes,) array, s."""
        front, _, tail = self.flanks(fraction)
        return np.asarray(tail - front)

    def tailing(self, fraction: float = 0.05) -> FloatArray:
        """Symmetry factor W / (2 f) (USP <621>, Ph. Eur. 2.2.46). (lanes,) array, 1."""
        front, apex, tail = self.flanks(fraction)
        return np.asarray((tail - front) / (2 * (apex - front)))

    def asymmetry(self, fraction: float = 0.10) -> FloatArray:
        """Tail half-width over front half-width, b/a. (lanes,) array, 1."""
        front, apex, tail = self.flanks(fraction)
        return np.asarray((tail - apex) / (apex - front))

    def plates(self, fraction: float, factor: float) -> FloatArray:
        """factor (t/W)^2 with the width at a fraction of the height. (lanes,) array, 1."""
        return np.asarray(factor * np.square(self.apex / self.width(fraction)))

    def plates_tangent(self) -> FloatArray:
        """Plates by the tangents at the inflection points, 16 (t/W)^2. (lanes,) array, 1."""
        return np.asarray(16 * np.square(self.apex / self.feet))

    @cached_property
    def _tangents(self) -> FloatArray:
        """Places of inflection points and of the feet of tangents there, before and behind."""
        windows, samples, bends, crests = self._fit
        found = np.full((len(samples), 2, 2), np.nan)
        _tangents(windows, samples, bends, crests, found)
        return found

    @property
    def feet(self) -> FloatArray:
        """Distance of the feet of the tangents at the inflection points. (lanes,) array, s."""
        front, tail = self._tangents[:, :, 1].T
        return np.asarray((tail - front) * self.band.step)

    @property
    def turns(self) -> tuple[FloatArray, FloatArray]:
        """Times of the inflection points before and behind the apex. Two (lanes,) arrays, s."""
        front, tail = self._tangents[:, :, 0].T
        return self._time(front), self._time(tail)


@njit(cache=True, nogil=True, error_model="numpy")
def _windows(values: FloatArray, windows: IntArray, foot: float, margin: int, few: int) -> None:
    """Begin and end of what is kept of each lane, and its largest sample; end 0: no peak."""
    count = values.shape[1]
    for lane in range(values.shape[0]):
        row = values[lane]
        top = 0
        there = 0
        for n in range(count):
            there += row[n] != 0
            if row[n] > row[top]:
                top = n
        if not row[top] > 0 or there < few:
            continue
        first = top
        while first > 0 and row[first] >= foot * row[top]:
            first -= 1
        last = top
        while last < count - 1 and row[last] >= foot * row[top]:
            last += 1
        windows[lane, 0] = first - margin
        windows[lane, 1] = last + margin + 1
        windows[lane, 2] = top


@njit(cache=True, nogil=True, error_model="numpy")
def _splines(
    values: FloatArray,
    windows: IntArray,
    samples: FloatArray,
    bends: FloatArray,
    crests: FloatArray,
) -> None:
    """Samples, second derivatives by steps, and maxima: place and height."""
    total = values.shape[1]
    pivot = np.empty(samples.shape[1])
    for lane in range(values.shape[0]):
        first, last, top = windows[lane]
        count = last - first
        if count == 0:
            continue
        y = samples[lane]
        for n in range(max(first, 0), min(last, total)):
            y[n - first] = values[lane, n]
        m = bends[lane]
        m[1] = y[0] - 2 * y[1] + y[2]
        m[count - 2] = y[count - 3] - 2 * y[count - 2] + y[count - 1]
        # elimination of m[n - 1] + 4 m[n] + m[n + 1] = 6 (second difference) inside
        pivot[1] = 0.0
        for n in range(2, count - 2):
            right = 6 * (y[n - 1] - 2 * y[n] + y[n + 1])
            pivot[n] = 1 / (4 - pivot[n - 1])
            m[n] = (right - m[n - 1]) * pivot[n]
        for n in range(count - 3, 1, -1):
            m[n] -= pivot[n] * m[n + 1]
        m[0] = 2 * m[1] - m[2]
        m[count - 1] = 2 * m[count - 2] - m[count - 3]
        crests[lane, 0] = top - first
        crests[lane, 1] = y[top - first]
        for n in (top - first - 1, top - first):
            a = (m[n + 1] - m[n]) / 6
            b = m[n] / 2
            c = y[n + 1] - y[n] - (2 * m[n] + m[n + 1]) / 6
            root = 4 * b * b - 12 * a * c
            if root < 0 or b >= 0:
                continue
            at = -2 * c / (2 * b - np.sqrt(root))
            if 0 <= at <= 1:
                height = ((a * at + b) * at + c) * at + y[n]
                if height > crests[lane, 1]:
                    crests[lane, 0] = n + at
                    crests[lane, 1] = height


@njit(cache=True, nogil=True, error_model="numpy")
def _possible(
    windows: IntArray,
    samples: FloatArray,
    bends: FloatArray,
    crests: FloatArray,
    share: FloatArray,
    found: FloatArray,
) -> None:
    """First and last place that may be the highest, above half the height."""
    for lane in range(samples.shape[0]):
        count = windows[lane, 1] - windows[lane, 0]
        if count == 0:
            continue
        y, m, apex, height = samples[lane], bends[lane], crests[lane, 0], crests[lane, 1]
        front, tail = apex, apex
        for n in range(count):
            if y[n] > height / 2:
                front = min(front, n)
                tail = max(tail, n)
        wide = tail - front + 1
        top = min(int(apex), count - 2)
        bend = m[top] + (apex - top) * (m[top + 1] - m[top])
        slack = min(2 * share[lane] * height / (wide * max(-bend, TINY)), wide)
        first, last = apex - slack, apex + slack
        for n in range(count):
            near = min(abs(n - apex) / wide, 1.0)
            if height - y[n] <= height * (share[lane] * near + ROUNDING):
                first = min(first, n)
                last = max(last, n)
        found[lane, 0] = max(first, front)
        found[lane, 1] = min(last, tail)


@njit(cache=True, nogil=True, error_model="numpy")
def _cross(
    windows: IntArray,
    samples: FloatArray,
    bends: FloatArray,
    crests: FloatArray,
    fraction: float,
    found: FloatArray,
) -> None:
    """Where each peak first falls to a fraction of its height, before and behind its apex."""
    for lane in range(samples.shape[0]):
        count = windows[lane, 1] - windows[lane, 0]
        if count == 0:
            continue
        y, m, apex = samples[lane], bends[lane], crests[lane, 0]
        level = fraction * crests[lane, 1]
        front = int(np.ceil(apex)) - 1
        while front >= 0 and y[front] >= level:
            front -= 1
        tail = int(np.floor(apex)) + 1
        while tail < count and y[tail] >= level:
            tail += 1
        if front < 0 or tail == count:
            continue
        found[lane, 0] = _meets(y, m, front, level, 0.0, min(1.0, apex - front))
        found[lane, 1] = _meets(y, m, tail - 1, level, 1.0, max(0.0, apex - tail + 1))


@njit(cache=True, nogil=True, error_model="numpy")
def _meets(y: FloatArray, m: FloatArray, n: int, level: float, under: float, over: float) -> float:
    """Place at which the spline's interval n comes to a level between two places of it."""
    a = (m[n + 1] - m[n]) / 6
    b = m[n] / 2
    c = y[n + 1] - y[n] - (2 * m[n] + m[n + 1]) / 6
    d = y[n] - level
    at = 0.5 * (under + over)
    for _ in range(HALVINGS):
        value = ((a * at + b) * at + c) * at + d
        if value < 0:
            under = at
        else:
            over = at
        slope = (3 * a * at + 2 * b) * at + c
        step = at - value / slope if slope != 0 else np.nan
        inside = min(under, over) < step < max(under, over)
        new = step if inside else 0.5 * (under + over)
        if abs(new - at) < 1e-15:
            break
        at = new
    return n + at


@njit(cache=True, nogil=True, error_model="numpy")
def _tangents(
    windows: IntArray,
    samples: FloatArray,
    bends: FloatArray,
    crests: FloatArray,
    found: FloatArray,
) -> None:
    """The steepest inflection point on each side of the apex; the foot of its tangent, in steps."""
    for lane in range(samples.shape[0]):
        count = windows[lane, 1] - windows[lane, 0]
        y, m, apex = samples[lane], bends[lane], crests[lane, 0]
        steepest = np.zeros(2)
        for n in range(count - 1):
            if not m[n] * m[n + 1] < 0:
                continue
            at = m[n] / (m[n] - m[n + 1])
            side = 0 if n + at < apex else 1
            a = (m[n + 1] - m[n]) / 6
            b = m[n] / 2
            c = y[n + 1] - y[n] - (2 * m[n] + m[n + 1]) / 6
            slope = (3 * a * at + 2 * b) * at + c
            steep = slope if side == 0 else -slope
            if steep <= steepest[side]:
                continue
            steepest[side] = steep
            value = ((a * at + b) * at + c) * at + y[n]
            found[lane, side, 0] = n + at
            found[lane, side, 1] = n + at - value / slope
