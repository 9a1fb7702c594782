"""A column's own tailing: how much of its spread an exponential is that makes it.

What leaves is the bed's inverse Gaussian density behind one stirred tank. Which share of the
standard deviation the tank's time is for a tailing factor at 5 % of the height, and how many plates
such a peak shows at half height for its variance, is tabulated from the densities themselves.
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
ROUNDS = 6
"""Until the spread is that of the plates by variance, on which the tables hardly depend."""


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
    wanted, plates = np.broadcast_arrays(
        np.nan_to_num(np.asarray(tailing, dtype=float), nan=1.0), np.asarray(plates, dtype=float)
    )
    read = _at(tables()[0], plates)
    above = np.clip(np.sum(read < wanted, axis=0), 1, SHARES.size - 1)[None]
    low, high = (np.take_along_axis(read, above - back, axis=0)[0] for back in (1, 0))
    part = np.clip((wanted - low) / (high - low), 0.0, 1.0)
    squares = SHARES**2
    part = np.where(wanted > read[0], part, 0.0)
    return np.asarray(np.sqrt((1 - part) * squares[above[0] - 1] + part * squares[above[0]]))


def by_variance(tailing: Number, plates: Number) -> FloatArray:
    """Mean squared over variance of a column with a number of plates at half height.

    Parameters
    ----------
    tailing : scalar or (lanes,) array, 1
        At 5 % of the height; without a tail of its own (``tail_share`` 0) the plates are the same.
    plates : scalar or (lanes,) array, 1
        8 ln 2 (time over width at half height)^2, over that of a bed without a tail.
    """
    wanted, plates = np.broadcast_arrays(tailing, np.asarray(plates, dtype=float))
    squares, found = SHARES**2, np.where(np.isnan(plates), 1e4, plates)
    for _ in range(ROUNDS):
        shown = _at(tables()[1], found)
        place = np.square(tail_share(wanted, found)) / squares[1]
        below = np.clip(place.astype(int), 0, SHARES.size - 2)[None]
        low, high = (np.take_along_axis(shown, below + more, axis=0)[0] for more in (0, 1))
        gain = (low + (place - below[0]) * (high - low)) / shown[0]
        found = plates / gain
    return np.asarray(np.where(np.isnan(plates), plates, found))


def _at(table: FloatArray, plates: FloatArray) -> FloatArray:
    """A table at the spread of a number of plates, (shares, lanes) array."""
    spread = np.minimum(1 / np.sqrt(plates), SPREADS[-1])
    left = np.clip(np.searchsorted(SPREADS, spread) - 1, 0, SPREADS.size - 2)
    weight = (spread - SPREADS[left]) / (SPREADS[left + 1] - SPREADS[left])
    return np.asarray((1 - weight) * table[:, left] + weight * table[:, left + 1])


@lru_cache
def tables() -> tuple[FloatArray, FloatArray]:
    """Tailing factor, and plates at half height over mean squared over variance.

    By share of the tail and spread, two (shares, spreads) arrays, 1.
    """
    read = np.array([[_read(share, spread) for spread in SPREADS] for share in SHARES])
    return read[..., 0], read[..., 1]


def _read(share: float, spread: float) -> tuple[float, float]:
    """Both of a response with standard deviation 1, read off its density."""
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
    height = at - (before - after) ** 2 / (8 * (before - 2 * at + after))
    left, right = np.array(
        [
            (
                np.interp(level, heights[: top + 1], times[: top + 1]),
                np.interp(-level, -heights[top:], times[top:]),
            )
            for level in (LEVEL * height, height / 2)
        ]
    ).T
    shown = 8 * np.log(2) * np.square((1 + (apex - share) * spread) / (right[1] - left[1]))
    return float((right[0] - left[0]) / (2 * (apex - left[0]))), float(shown)
