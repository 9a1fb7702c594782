"""Exact cumulants of tubes with one bend, from a table over C, X and De.

The table (``cumulants.npz``, made by ``benchmarks/bent_cumulants_table.py``) holds the logarithms
of variance and skewness over those of the straight tube on a grid of arsinh(C / STIRRED) and
ln(X ``turning``), along which the liquid has turned about as often, at two nodes of De^2. From
a length on both cumulants go with it.
"""

from functools import lru_cache
from importlib.resources import files

import numpy as np

from tailrace.parts.tube.theory import reduced_cumulants
from tailrace.quantities.arrays import BoolArray, FloatArray, IntArray, Number

LEAST, MOST = 0.033, 100.0
"""Fourier numbers to which the table and what follows from it reach."""
LONG, LONG_STIRRED, NEAR = 2.5, 1.4, 0.8
"""X from which on all goes with the length, as between it and NEAR times it; where C is above
MUCH it holds sooner."""
MUCH = 7e3
STIRRED, TURNED, ORIGIN = 300.0, 600.0, 0.01
"""C, C, and the X at which a column stands where nothing turns."""
STEP_STRENGTH, STEP_LENGTH = 0.36, 0.075
"""Of arsinh(C / STIRRED) and of ln(X turning)."""
ROWS = 15
MOST_STRENGTH = float(STIRRED * np.sinh((ROWS - 1) * STEP_STRENGTH))
LEAST_SCHMIDT, MORE_SCHMIDT = 200.0, 1 / 80
"""Schmidt number from which on the table holds, and by how much more a unit of C asks for."""
DEANS = (0.0, 1.0)
"""Nodes of De^2 over ``highest_square``."""
ACROSS, ALONG = 6, 8
"""Points of the grid that count for one tube, over C and along a line."""


def turning(strength: Number) -> FloatArray:
    """X goes with one over this where the liquid has turned about as often. As ``strength``, 1."""
    return np.asarray(np.hypot(1.0, np.asarray(strength) / TURNED))


def highest_square(strength: Number) -> FloatArray:
    """De^2 to which the table reaches. As ``strength``, 1."""
    return np.asarray(strength / (LEAST_SCHMIDT + MORE_SCHMIDT * np.asarray(strength)))


@lru_cache(maxsize=1)
def table() -> tuple[FloatArray, IntArray]:
    """Logarithms, (rows, columns, 2 DEANS): variance, then skewness; first column of each row."""
    with files("tailrace.parts.tube.bent").joinpath("cumulants.npz").open("rb") as stream:
        stored = np.load(stream)
        return stored["logarithms"].astype(float), stored["first"].astype(np.int64)


def covers(dean: FloatArray, strength: FloatArray, length: FloatArray) -> BoolArray:
    """Which tubes are in the table. As ``dean``; C above 0."""
    inside: BoolArray = (length >= LEAST) & (length <= MOST) & (strength <= MOST_STRENGTH)
    return inside & (dean**2 <= highest_square(strength))


def cumulants(dean: FloatArray, strength: FloatArray, length: FloatArray) -> FloatArray:
    """Variance and third cumulant in units of a^2/D; (lanes,) arrays in, (lanes, 2) out.

    Good to 1e-4 and 5e-4 (a test).
    """
    last = np.where(strength > MUCH, LONG_STIRRED, LONG)
    found = _read(dean, strength, np.minimum(length, last))
    far = length > last
    if np.any(far):
        sooner = _read(dean[far], strength[far], NEAR * last[far])
        more = (length[far] / last[far] - 1) / (1 - NEAR)
        found[far] += (found[far] - sooner) * more[:, None]
    return found


def _read(dean: FloatArray, strength: FloatArray, length: FloatArray) -> FloatArray:
    logarithms, starts = table()
    across = np.arcsinh(strength / STIRRED) / STEP_STRENGTH
    row = np.minimum(across.astype(int) - 2, ROWS - ACROSS)
    along = np.log(length / ORIGIN * turning(strength)) / STEP_LENGTH
    column = np.floor(along).astype(int) - 3
    rows = np.abs(row[:, None] + np.arange(ACROSS))  # even in C
    columns = column[:, None, None] + np.arange(ALONG) - starts[rows][..., None]
    up, on = _lagrange(across - row, ACROSS), _lagrange(along - column, ALONG)
    here = np.einsum("li,lj,lijk->lk", up, on, logarithms[rows[..., None], columns])
    count = len(DEANS)
    share = _lagrange((count - 1) * dean**2 / highest_square(strength), count)
    ratio, skewed = (np.exp(np.sum(share * here[:, at : at + count], axis=1)) for at in (0, count))
    variance, third = reduced_cumulants(length)
    return np.stack([variance * ratio, third * ratio**1.5 * skewed], axis=1)


def _lagrange(t: FloatArray, points: int) -> FloatArray:
    """Weights of values at 0, 1, ... at t. (len(t), points) array."""
    weights = np.ones((t.size, points))
    for k, j in ((k, j) for k in range(points) for j in range(points) if j != k):
        weights[:, k] *= (t - j) / (k - j)
    return weights
