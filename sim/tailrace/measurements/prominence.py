"""Maxima of a row of points, how far each stands out, and how wide it is halfway down.

As ``find_peaks`` and ``peak_widths`` of scipy.signal have them (a test), whose import takes longer
than a fit.
"""

from collections.abc import Iterable, Iterator

import numpy as np

from tailrace.quantities.arrays import FloatArray, IntArray


def prominent(values: FloatArray, least: float) -> tuple[IntArray, FloatArray]:
    """Maxima that stand out by at least so much, and by how much; of a flat top the middle.

    A maximum stands out of the higher of the least values on either side, each up to the next point
    that is higher than it is.
    """
    starts = np.concatenate([[0], np.flatnonzero(np.diff(values)) + 1])
    levels = values[starts]
    rises = np.diff(levels) > 0
    runs = 1 + np.flatnonzero(rises[:-1] & ~rises[1:])
    if not runs.size:
        return np.zeros(0, dtype=int), np.zeros(0)
    tops = (starts[runs] + starts[runs + 1] - 1) // 2
    heights = values[tops]
    between = np.minimum.reduceat(values, np.concatenate([[0], tops]))
    left = list(_least(heights, between[:-1]))
    right = list(_least(heights[::-1], between[:0:-1]))[::-1]
    out = heights - np.maximum(left, right)
    high_enough = out >= least
    return tops[high_enough], out[high_enough]


def _least(heights: FloatArray, between: FloatArray) -> Iterator[float]:
    """Least value from each maximum back to the first that is higher; ``between``: before each."""
    passed = list[tuple[float, float]]()
    for height, low in zip(heights.tolist(), between.tolist(), strict=True):
        while passed and passed[-1][0] <= height:
            low = min(low, passed.pop()[1])
        passed.append((height, low))
        yield low


def half_widths(values: FloatArray, tops: Iterable[int], out: Iterable[float]) -> FloatArray:
    """Points between the places, interpolated, where a maximum has fallen by half of what it stands
    out by. (maxima,) array, 1."""
    return np.array(
        [
            _fallen(values[top:], values[top] - by / 2)
            + _fallen(values[top::-1], values[top] - by / 2)
            for top, by in zip(tops, out, strict=True)
        ]
    )


def _fallen(values: FloatArray, level: float) -> float:
    at = int(np.argmax(values <= level))
    return at - float((level - values[at]) / (values[at - 1] - values[at]))
