"""A column's own tailing: how much of its spread an exponential is that makes it.

What leaves is the bed's inverse Gaussian density behind one stirred tank; mean and variance are
those of the bed as a whole. Which share of the standard deviation the tank's time is for a tailing
factor at 5 % of the height is tabulated from the densities themselves.
"""

from functools import lru_cache

import numpy as np

from tailrace.quantities.arrays import FloatArray, Number

LEVEL = 0.05
"""Of the height, where the tailing factor is read (USP <621>)."""
MOST_TAILING = 2.0
SPREADS = np.array([0.0, 0.005, 0.01, 0.02, 0.035, 0.05, 0.075, 0.1])
"""One over the root of the plates; below 100 plates those of 100 are taken."""
SHARES = np.sqrt(np.linspace(0.0, 0.96, 129))
STEP, REACH = 0.004, (-8.0, 14.0)
"""Of the densities that are tabulated, in standard deviations."""


def tail_share(tailing: Number, plates: Number) -> FloatArray:
    """Time constant of the tank over the standard deviation of the whole. (lanes,) array, 1.

    Parameters
    ----------
    tailing : scalar or (lanes,) array, 1
        At 5 % of the height; 0 is found where it is no more than that of the bed alone, and where
        it is NaN.
    plates : scalar or (lanes,) array, 1
        Mean squared over variance.
    """
    wanted, spread = np.broadcast_arrays(
        np.nan_to_num(np.asarray(tailing, dtype=float), nan=1.0),
        np.minimum(1 / np.sqrt(np.asarray(plates, dtype=float)), SPREADS[-1]),
    )
    left = np.clip(np.searchsorted(SPREADS, spread) - 1, 0, SPREADS.size - 2)
    weight = (spread - SPREADS[left]) / (SPREADS[left + 1] - SPREADS[left])
    read = (1 - weight) * table()[:, left] + weight * table()[:, left + 1]
    above = np.clip(np.sum(read < wanted, axis=0), 1, SHARES.size - 1)[None]
    low, high = (np.take_along_axis(read, above - back, axis=0)[0] for back in (1, 0))
    part = np.clip((wanted - low) / (high - low), 0.0, 1.0)
    squares = SHARES**2
    part = np.where(wanted > read[0], part, 0.0)
    return np.asarray(np.sqrt((1 - part) * squares[above[0] - 1] + part * squares[above[0]]))


@lru_cache
def table() -> FloatArray:
    """Tailing factor by share of the tail and spread. (shares, spreads) array, 1."""
    return np.array([[_tailing(share, spread) for spread in SPREADS] for share in SHARES])


def _tailing(share: float, spread: float) -> float:
    """Of a response with standard deviation 1, read off its density."""
    from scipy.signal import lfilter

    times = np.arange(*REACH, STEP)
    variance = 1 - share**2
    if spread > 0:
        mean = 1 / spread - share
        late = np.maximum(times + mean, 1e-9)
        exponent = -(mean**2) / variance * times**2 / (2 * mean * late)
        heights = np.sqrt(mean**3 / (2 * np.pi * variance * late**3)) * np.exp(exponent)
    else:
        heights = np.exp(-(times**2) / (2 * variance))
    if share > 0:
        heights = np.asarray(lfilter([1.0], [1.0, -np.exp(-STEP / share)], heights))
    top = int(np.argmax(heights))
    before, at, after = heights[top - 1 : top + 2]
    apex = times[top] + STEP * (before - after) / (2 * (before - 2 * at + after))
    level = LEVEL * (at - (before - after) ** 2 / (8 * (before - 2 * at + after)))
    left = np.interp(level, heights[: top + 1], times[: top + 1])
    right = np.interp(-level, -heights[top:], times[top:])
    return float((right - left) / (2 * (apex - left)))
