"""Moments of a curve by sums over points that are far apart, from its spectrum.

Sums over the samples themselves lose digits where the window is long: its ends count with the
square and the cube of their distance. By Poisson's sum, what points at (k + phase) interval give is
the moment of the curve plus what its spectrum holds around whole turns an interval.
"""

import numpy as np

from tailrace.measures import Moments
from tailrace.quantities.arrays import ComplexArray, FloatArray

APART = 0.05
"""Step of the differences, over 1 / standard deviation; an eighth of a turn at most."""
MOST_TURNS = 512
"""That are summed; of a spectrum that reaches farther the rest turns about too fast to add up."""
DIFFERENCES = (
    (0, 0, 0, 0, 1, 0, 0, 0, 0),
    (1 / 280, -4 / 105, 1 / 5, -4 / 5, 0, 4 / 5, -1 / 5, 4 / 105, -1 / 280),
    (-1 / 560, 8 / 315, -1 / 5, 8 / 5, -205 / 72, 8 / 5, -1 / 5, 8 / 315, -1 / 560),
    (-7 / 240, 3 / 10, -169 / 120, 61 / 30, 0, -61 / 30, 169 / 120, -3 / 10, 7 / 240),
)
"""Weights of nine neighbours for a value and its first three derivatives (central differences)."""


def turns_around(
    interval: FloatArray, highest: FloatArray, deviation: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Whole turns an interval, up to ``highest`` in any lane, and the frequencies around them.

    Parameters
    ----------
    interval, highest, deviation : (lanes,) array, s, rad/s, s

    Returns
    -------
    (lanes, turns) and (lanes, turns * 9) array, rad/s
    """
    count = int(np.clip(np.max(highest * interval) / (2 * np.pi), 1, MOST_TURNS))
    whole = 2 * np.pi * np.arange(1, count + 1) / interval[:, None]
    near = step_of(interval, deviation)[:, None, None] * np.arange(-4, 5)
    return whole, (whole[:, :, None] + near).reshape(interval.size, -1)


def over_points(
    curve: Moments, around: ComplexArray, whole: FloatArray, interval: FloatArray, phase: FloatArray
) -> Moments:
    """Moments by sums over points, times the interval, of a curve with these moments.

    Parameters
    ----------
    curve : Moments
    around : (lanes, turns * 9) complex array, 1
        Spectrum at the frequencies of ``turns_around``.
    whole : (lanes, turns) array, rad/s
    interval, phase : (lanes,) array, s, 1
        The phase is a share of the interval.
    """
    near = around.reshape(*whole.shape, 9)
    step = step_of(interval, np.sqrt(curve.variance))
    offset = step[:, None, None] * np.arange(-4, 5)
    # times are counted from the mean, lest the cubes lose digits
    centred = near * np.exp(1j * offset * curve.mean[:, None, None])
    first = np.exp(1j * whole * (phase * interval)[:, None])[:, :, None]
    found = np.einsum("ltn,kn->lk", first * centred, np.array(DIFFERENCES))
    added = 2 * np.real(found * 1j ** np.arange(4)) / step[:, None] ** np.arange(4)
    nought, one, two, three = (added + _raw(curve)).T
    shift = one / nought
    second, third = two / nought, three / nought
    return Moments(
        area=nought,
        mean=curve.mean + shift,
        variance=second - shift**2,
        third=third - 3 * shift * second + 2 * shift**3,
    )


def step_of(interval: FloatArray, deviation: FloatArray) -> FloatArray:
    """Of the differences; (lanes,) arrays, s and s to rad/s."""
    return np.asarray(np.minimum(APART / deviation, np.pi / 4 / interval))


def _raw(curve: Moments) -> FloatArray:
    """Sums of the curve times powers of the time from its mean. (lanes, 4) array."""
    return np.stack([curve.area, np.zeros_like(curve.mean), curve.variance, curve.third], axis=1)
