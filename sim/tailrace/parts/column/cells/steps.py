"""From a band to the amounts that enter step by step, and back."""

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from tailrace.signals.band import Band

BLUNT = np.array([1 / 24, 11 / 12, 1 / 24])
"""Means over a step from samples: the variance of a mean, step^2/12, is put back."""


def amounts_by_step(band, step, ahead, rising=False):
    """Amounts of a one-lane band by step, some time ahead each.

    Parameters
    ----------
    band : Band
        Of one lane.
    step : float, s
    ahead : (rows,) array, s
        By how much the instants of each row run ahead.
    rising : bool
        What has entered never falls, so that the edges of an injection are not negative.

    Returns
    -------
    amounts : (rows, steps) array, 1
        Each row adds up to the amount of the band.
    begin : float, s
        Time at which the first step begins.
    """
    # samples are values at instants, what lies between two edges is a mean
    means = np.convolve(band.values[0], BLUNT)
    entered = np.concatenate([[0.0], np.cumsum(means)]) * band.step[0]
    edges = (np.arange(entered.size) - 1.5) * band.step[0]
    if rising:
        entered = np.minimum(np.maximum.accumulate(entered), entered[-1])
        curve = PchipInterpolator(edges, entered)
    else:
        curve = CubicSpline(edges, entered, bc_type="clamped")
    lead, lag = np.ceil(np.max(ahead) / step), np.ceil(max(-np.min(ahead), 0.0) / step)
    count = int(np.ceil((edges[-1] - edges[0]) / step) + lead + lag) + 1
    begin = edges[0] - lead * step
    times = begin + step * np.arange(count + 1) + ahead[:, None]
    amounts = np.diff(curve(np.clip(times, edges[0], edges[-1])), axis=1)
    return amounts, band.start[0] + begin


def joined(lanes) -> Band:
    """One band of lanes with grids of their own, without the zeros before each.

    Parameters
    ----------
    lanes : list of tuple
        Values (times,) in 1/s, time of the first in s, step in s.
    """
    begins = [int(np.argmax(np.abs(values) > 0)) for values, _, _ in lanes]
    count = max(values.size - begin for (values, _, _), begin in zip(lanes, begins, strict=True))
    rows = np.zeros((len(lanes), count))
    for row, (values, _, _), begin in zip(rows, lanes, begins, strict=True):
        row[: values.size - begin] = values[begin:]
    start = [start + begin * step for (_, start, step), begin in zip(lanes, begins, strict=True)]
    return Band(rows, np.array(start), np.array([step for _, _, step in lanes]))
