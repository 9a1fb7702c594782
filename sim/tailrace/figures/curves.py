"""Bands as lines that can be drawn."""

from collections.abc import Sequence

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band

VISIBLE = 0.005
"""Share of the peak's height below which a tail is left out of the view."""


def curve(band: Band | None, lane: int) -> tuple[FloatArray, FloatArray]:
    """One lane, closed down to the base line on both sides.

    Raises ValueError where there is no band.

    Returns
    -------
    (points,) array, s, and (points,) array, 1/s
    """
    if band is None:
        raise ValueError("a result without its bands cannot be drawn")
    one = band.lane(lane)
    times, heights = one.times[0], one.values[0]
    step = one.step[0]
    return (
        np.concatenate([[times[0] - step], times, [times[-1] + step]]),
        np.concatenate([[0.0], heights, [0.0]]),
    )


def levelled(heights: FloatArray) -> FloatArray:
    """Heights with the single samples taken off that stick out at the edges of a rectangle.

    Such samples keep the moments of the injected rectangle exact on its grid; drawn, they would
    look like horns. A median of three leaves slopes and flat tops as they are.

    Parameters
    ----------
    heights : (points,) array, 1/s
        Zero at both ends.

    Returns
    -------
    (points,) array, 1/s
        Nowhere negative.
    """
    padded = np.pad(heights, 1)
    threes = np.stack([padded[:-2], padded[1:-1], padded[2:]])
    return np.clip(np.median(threes, axis=0), 0, None)


def middle(times: FloatArray, heights: FloatArray) -> float:
    """Time of the maximum, s; of a flat top its middle."""
    top = times[heights >= 0.99 * heights.max()]
    return float((top[0] + top[-1]) / 2)


def view(times: FloatArray, heights: FloatArray) -> tuple[float, float]:
    """First and last time, s, at which the curve is above VISIBLE of its height."""
    seen = times[heights >= VISIBLE * heights.max()]
    return float(seen[0]), float(seen[-1])


def framed(
    spans: Sequence[tuple[float, float]], before: float = 0.04, behind: float = 0.04
) -> tuple[float, float]:
    """Ends of an axis, s, that shows all spans, with room over their whole length on both sides."""
    left, right = min(first for first, _ in spans), max(last for _, last in spans)
    return left - before * (right - left), right + behind * (right - left)


def half_width(times: FloatArray, heights: FloatArray) -> float:
    """Width at half height, s, by straight lines between the samples."""
    half = heights.max() / 2
    above = np.flatnonzero(heights >= half)
    first, last = above[0], above[-1]
    left = np.interp(half, heights[first - 1 : first + 1], times[first - 1 : first + 1])
    right = np.interp(-half, -heights[last : last + 2], times[last : last + 2])
    return float(right - left)
