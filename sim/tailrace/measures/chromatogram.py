"""All solutes on one trace, and how well neighbours stand apart on it."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from tailrace.measures.shape import GAUSSIAN_WIDTH
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample

RESOLUTION_FACTOR = GAUSSIAN_WIDTH / 2
"""Rs = sqrt(2 ln 2) (t2 - t1)/(W1 + W2) at half height; pharmacopoeias round to 1.18
(USP <621>, Ph. Eur. 2.2.46)."""
MOST_POINTS = 4_000_000
LEAST_VALLEY = 1e-3
"""Of the smaller peak; below it the trace has come back to its base line and says no more."""
BARELY_APART = 2.001
"""Distance of two equal Gaussians in standard deviations; at 2 the valley closes."""
REACH = 4
"""Samples on either side from which a turning point of the trace is read."""


def overlaid(band: Band, weights: FloatArray | Sequence[float]) -> Band:
    """The sum of all lanes on one time axis.

    One lane. No more than MOST_POINTS points: beyond, the step is made longer.

    Parameters
    ----------
    band : Band
        Lanes with a common interval between points stay on it; others are read by the cubic that
        joins their samples, at the shortest step of all.
    weights : (lanes,) array, any unit
        Height of each lane in the sum, over its own.
    """
    last = band.start + band.step * (band.values.shape[1] - 1)
    first, end = band.start.min(), last.max()
    step = max(band.step.min(), (end - first) / MOST_POINTS)
    count = int(np.ceil((end - first) / step - 1e-9)) + 1
    values = np.zeros(count)
    for lane, weight in enumerate(weights):
        one = band.lane(lane)
        reach = one.start[0] - 3 * one.step[0], one.times[0, -1] + 3 * one.step[0]
        low, high = np.clip(np.round((np.array(reach) - first) / step), 0, count).astype(int)
        times = first + step * np.arange(low, high + 1)[: count - low]
        values[low : low + times.size] += weight * sample(one, times[None])[0]
    return Band(values[None], np.array([first]), np.array([step]))


def half_height_resolution(apexes: FloatArray, widths: FloatArray) -> FloatArray:
    """Resolution of peaks and those after them, by their widths at half height.

    Parameters
    ----------
    apexes, widths : (..., peaks) array, s
        In the order of elution.

    Returns
    -------
    (..., peaks - 1) array, 1
        NaN where a width does not exist.
    """
    apart, wide = np.diff(apexes, axis=-1), widths[..., :-1] + widths[..., 1:]
    return np.asarray(RESOLUTION_FACTOR * apart / wide)


def half_height_resolution_error(
    apexes: FloatArray, widths: FloatArray, apex_errors: FloatArray, width_errors: FloatArray
) -> FloatArray:
    """Error of ``half_height_resolution``: those of two times and two widths, all added up.

    Parameters
    ----------
    apexes, widths : (..., peaks) array, s
    apex_errors, width_errors : (..., peaks) array, s

    Returns
    -------
    (..., peaks - 1) array, 1
    """
    wide = widths[..., :-1] + widths[..., 1:]
    moved = apex_errors[..., :-1] + apex_errors[..., 1:]
    widened = width_errors[..., :-1] + width_errors[..., 1:]
    resolution = np.abs(half_height_resolution(apexes, widths))
    return np.asarray((RESOLUTION_FACTOR * moved + resolution * widened) / wide)


def valley_to_peak(trace: Band, apexes: FloatArray | Sequence[float]) -> FloatArray:
    """Lowest point between neighbours, over the height of the smaller of the two.

    Parameters
    ----------
    trace : Band
        One lane.
    apexes : (peaks,) array, s
        Maxima of the single peaks, in the order of elution. From each, the nearest maximum of the
        trace uphill is taken for the peak.

    Returns
    -------
    (peaks - 1,) array, 1
        The inverse of the pharmacopoeial peak-to-valley ratio Hp/Hv (Ph. Eur. 2.2.46). NaN where
        two peaks have run into one.
    """
    heights, start, step = trace.values[0], trace.start[0], trace.step[0]
    nearest = np.round((np.asarray(apexes) - start) / step)
    tops = [_uphill(heights, int(at)) for at in np.clip(nearest, 0, heights.size - 1)]
    found = np.full(len(tops) - 1, np.nan)
    for pair, (one, other) in enumerate(pairwise(tops)):
        if other <= one:
            continue
        lowest = one + int(np.argmin(heights[one : other + 1]))
        smaller = min(_turning(heights, one), _turning(heights, other))
        found[pair] = max(0.0, -_turning(-heights, lowest)) / smaller
    return found


def peak_to_valley(ratio: FloatArray) -> FloatArray:
    """The pharmacopoeial ratio from its inverse, no greater than 1/LEAST_VALLEY. Both arrays, 1."""
    return np.asarray(1 / np.maximum(ratio, LEAST_VALLEY))


def resolution_from_valley(ratio: float) -> float:
    """Resolution of two equal Gaussians with the same valley.

    Parameters
    ----------
    ratio : float, 1
        Valley over peak.

    Returns
    -------
    float, 1
        A quarter of their distance in standard deviations. NaN where there is no valley, or where
        it is below LEAST_VALLEY.
    """
    from scipy.optimize import brentq

    if not LEAST_VALLEY <= ratio < gaussian_valley(BARELY_APART):
        return float("nan")
    return float(brentq(lambda distance: gaussian_valley(distance) - ratio, BARELY_APART, 20)) / 4


def gaussian_valley(distance: float) -> float:
    """Valley over peak of two equal Gaussians.

    Parameters
    ----------
    distance : float, 1
        In standard deviations, above 2. The peaks of the sum stand nearer to each other than the
        two Gaussians do.

    Returns
    -------
    float, 1
    """
    from scipy.optimize import brentq

    def slope(at: float) -> float:
        return float((distance - at) * np.exp(distance * (at - distance / 2)) - at)

    top = brentq(slope, 0.0, distance / 2 * (1 - 1e-6), xtol=1e-15)
    peak = np.exp(-(top**2) / 2) + np.exp(-((distance - top) ** 2) / 2)
    return float(2 * np.exp(-(distance**2) / 8) / peak)


def _uphill(heights: FloatArray, at: int) -> int:
    """Index of the maximum that is reached by always climbing."""
    while True:
        around = heights[max(at - 1, 0) : at + 2]
        higher = max(at - 1, 0) + int(np.argmax(around))
        if heights[higher] <= heights[at]:
            return at
        at = higher


def _turning(heights: FloatArray, at: int) -> float:
    """Height of the maximum near a sample, by a cubic spline through its neighbours."""
    window = heights[max(at - REACH, 0) : at + REACH + 1]
    if window.size < REACH:
        return float(heights[at])
    from scipy.interpolate import CubicSpline

    curve = CubicSpline(np.arange(window.size), window)
    turns = curve.derivative().roots(extrapolate=False)
    turns = turns[np.isfinite(turns) & (np.abs(turns - (at - max(at - REACH, 0))) <= 1)]
    return float(max([heights[at], *curve(turns)]))
