"""Tubes with one bend, read between nodes that are computed where they are first needed.

With sigma^2 and s the variance and skewness that the tube adds, and u = omega sigma, the transfer
function is, in time that moves from the mean (u << LATE) to half the residence (u >> LATE),

    g = 1 - P u^2/(1 + u^2) + i Q u^3/(1 + u^2)^(3/2) ,   P = 1/2 and Q = s/6 where u = 0 ,

so that an error of P and Q leaves variance and third cumulant as they are. P, Q, sigma and s are
interpolated between nodes of arsinh((De/10)^2), arsinh(C/300) and ln X by cubics; in C along lines
of one C X, on which the liquid has turned about as often. Sigma and s at a node are those of
``theory.py``, P and Q those of ``spectral.py``.
"""

from collections.abc import Callable
from functools import lru_cache
from threading import Lock

import numpy as np
from numpy.polynomial import chebyshev
from threadpoolctl import threadpool_limits

from tailrace.parts.tube.bent.galerkin import section
from tailrace.parts.tube.bent.spectral import ORDERS, Model, shots
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.parts.tube.bent.theory import at_lengths
from tailrace.quantities.arrays import ComplexArray, FloatArray

FEW = 8
"""Tubes up to which each is solved by itself, and not read between nodes."""
SECONDS = 1800.0
"""Of one processor, about: all nodes that the cases of one study ask for."""
ONE_BY_ONE = Lock()
"""So that two threads do not compute the same node."""
ERROR = 3e-4
"""Of the transfer function, over its value at rest (a test)."""
LEAST, MOST = 0.003, 30.0
"""Fourier numbers between which nodes are computed."""
MOST_STRENGTH, MOST_DEAN = 1e5, 40.0
STEP_DEAN, STEP_STRENGTH, STEP_LENGTH = 0.3, 0.14, 0.03
"""Of arsinh((De/10)^2), of arsinh(C/300), of ln X."""
NOTHING = 1e-4
"""Weight below which a node is not computed."""
SLOW_DEAN, SLOW, TURNED, SHORT = 10.0, 300.0, 1000.0, 1e-3
BLOCK = 13
"""Steps of ln X that have one space in common."""
LATE = 6.0
REACHES, RATES = (45.0, 700.0), (64, 160)
"""Of u, and the frequencies for each; beyond the tube counts as straight."""
POINTS_A_STEP = 32.0
"""Values of u to a unit of arsinh(u)."""
FITTED = 0.35
"""Below this u rounding shows over u^2: an even polynomial is taken."""


def covers(dean: FloatArray, strength: FloatArray, length: FloatArray) -> bool:
    """Whether all lanes lie where nodes are computed."""
    return bool(
        np.all((length >= LEAST) & (length <= MOST) & (strength <= MOST_STRENGTH))
        and np.all(dean <= MOST_DEAN)
    )


def cumulants(dean: FloatArray, strength: FloatArray, length: FloatArray) -> FloatArray:
    """Variance and third cumulant in units of a^2/D; (lanes,) arrays in, (lanes, 2) out."""
    logarithm, skewness = _between(dean, strength, length, _spread, (2,)).T
    variance = np.exp(logarithm) * length**2
    return np.stack([variance, skewness * variance**1.5], axis=1)


def response(
    dean: FloatArray, strength: FloatArray, length: FloatArray, omega: FloatArray
) -> tuple[ComplexArray, FloatArray]:
    """Transfer function in time from the inlet, and u.

    Parameters
    ----------
    dean, strength, length : (lanes,) arrays, 1
        (a w0/nu) sqrt(a/R), C, X.
    omega : (lanes, frequencies) array, D/a^2

    Returns
    -------
    transfer, u : (lanes, frequencies) arrays, 1
        To be used up to the last of ``REACHES`` of u.
    """
    variance, third = cumulants(dean, strength, length).T
    u = omega * np.sqrt(variance)[:, None]
    top = next((k for k, reach in enumerate(REACHES) if u.max() <= reach), len(REACHES) - 1)

    def shape(*node: int) -> FloatArray:
        return _shape(*node, top)

    count = _grid(top).size
    rows = _between(dean, strength, length, shape, (count, 2))
    # the frame that moves turns the third order, too
    sigma = np.sqrt(variance)
    rows[:, 0, 0], rows[:, 0, 1] = 0.5, third / sigma**3 / 6 - length / (2 * LATE**2 * sigma)
    place = np.minimum(np.arcsinh(u) * POINTS_A_STEP, count - 1.001)
    first = np.clip(place.astype(int) - 1, 0, count - 4)
    weights = _cubic(place - first - 1)
    lanes = np.arange(len(u))[:, None]
    p, q = sum(
        weights[..., k, None] * rows[lanes, first + k] for k in range(4)
    ).transpose(2, 0, 1)  # fmt: skip
    square = u**2 / (1 + u**2)
    late = length[:, None] * omega * _delay(u)
    found = (1 - p * square + 1j * q * square * np.sqrt(square)) * np.exp(-1j * late)
    return found, u


def _delay(u: FloatArray) -> FloatArray:
    """From the mean to half of it, of the residence."""
    return np.asarray(0.5 + 0.5 / (1 + (u / LATE) ** 2))


def _grid(top: int) -> FloatArray:
    count = int(np.ceil(np.arcsinh(REACHES[top]) * POINTS_A_STEP)) + 2
    return np.asarray(np.sinh(np.arange(count) / POINTS_A_STEP))


def _cubic(t: FloatArray) -> FloatArray:
    """Lagrange's weights of points -1, 0, 1, 2 at t; (..., 4) array."""
    return np.stack(
        [
            -t * (t - 1) * (t - 2) / 6,
            (t + 1) * (t - 1) * (t - 2) / 2,
            -(t + 1) * t * (t - 2) / 2,
            (t + 1) * t * (t - 1) / 6,
        ],
        axis=-1,
    )


def _between(
    dean: FloatArray,
    strength: FloatArray,
    length: FloatArray,
    node: Callable[[int, int, int], FloatArray],
    shape: tuple[int, ...],
) -> FloatArray:
    """Interpolate between nodes, which hold the X of one block. (lanes, *shape) array."""
    e = np.arcsinh((dean / SLOW_DEAN) ** 2) / STEP_DEAN
    c = np.arcsinh(strength / SLOW) / STEP_STRENGTH
    rows, columns = (np.maximum(one.astype(int) - 1, 0) for one in (e, c))
    across, up = _cubic(e - rows - 1), _cubic(c - columns - 1)
    out = np.zeros((length.size, *shape))
    for i, j in np.ndindex(4, 4):
        weight = across[:, i] * up[:, j]
        if np.all(np.abs(weight) < NOTHING):
            continue
        there = SLOW * np.sinh((columns + j) * STEP_STRENGTH)
        line = length * np.sqrt((TURNED**2 + strength**2) / (TURNED**2 + there**2))
        block, t = np.divmod(np.log(line / SHORT) / STEP_LENGTH, BLOCK)
        cell = np.minimum(t.astype(int), BLOCK - 1)
        fine = _cubic(t - cell)
        keys = np.stack([rows + i, columns + j, block.astype(int)], axis=1)
        found, which = np.unique(keys, axis=0, return_inverse=True)
        for n, key in enumerate(found):
            some = np.flatnonzero(which == n)
            with ONE_BY_ONE:
                values = node(*map(int, key))
            for k in range(4):
                share = (weight[some] * fine[some, k]).reshape(-1, *[1] * len(shape))
                out[some] += share * values[cell[some] + k]
    return out


def _place(row: int, column: int, block: int) -> tuple[float, float, FloatArray]:
    """De, C, and the X of a block with one more before and two behind."""
    dean = SLOW_DEAN * float(np.sqrt(np.sinh(row * STEP_DEAN)))
    steps = block * BLOCK + np.arange(-1, BLOCK + 2)
    lengths = SHORT * np.exp(STEP_LENGTH * steps)
    return dean, SLOW * float(np.sinh(column * STEP_STRENGTH)), lengths


def _order(strength: float, length: float, highest: float = 0.0) -> int:
    """Layers grow thin with C, in short tubes, and about the axis with the frequency, D/a^2."""
    layers = 22 * max(1.0, strength / 1e3) ** 0.3 * max(1.0, 0.05 / length) ** 0.2
    layers = max(layers, 26.0, 68 * (highest / 5e4) ** 0.25)
    return ORDERS[min(int(np.searchsorted(ORDERS, layers)), len(ORDERS) - 1)]


@lru_cache(maxsize=1 << 14)
def _spread(row: int, column: int, block: int) -> FloatArray:
    """ln(variance/X^2) and skewness. (X of the block, 2) array."""
    dean, strength, lengths = _place(row, column, block)
    order = _order(strength, lengths[0])
    variance, third = at_lengths(section(dean, order), strength, lengths).T
    return np.stack([np.log(variance / lengths**2), third / variance**1.5], axis=1)


@lru_cache(maxsize=1 << 12)
def _shape(row: int, column: int, block: int, top: int) -> FloatArray:
    """P and Q. (X of the block, values of u, 2) array."""
    dean, strength, lengths = _place(row, column, block)
    logarithm, skewness = _spread(row, column, block).T
    sigma = np.exp(logarithm / 2) * lengths
    u = _grid(top)
    lowest, highest = 1 / lengths[-1], float(np.max(u[-1] / sigma))
    stretch = Stretch(dean=dean, strength=strength, length=lengths[-1], residence=lengths[-1])
    reach, points = np.arcsinh(highest / lowest), chebyshev.chebpts1(RATES[top])
    omega = lowest * np.sinh((points + 1) / 2 * reach)
    with threadpool_limits(1, "blas"):  # the matrices are too small to share out
        order = _order(strength, lengths[0], highest)
        model = Model.built([stretch], order, shots(highest, lowest))
        values = model.at_lengths(omega, lengths)
    values *= np.exp(-1j * np.outer(omega, lengths) / (stretch.residence / stretch.transit))
    out = np.empty((lengths.size, u.size, 2))
    for k, length in enumerate(lengths):
        moved = values[:, k] * np.exp(1j * omega * length * _delay(omega * sigma[k]))
        series = chebyshev.chebvander(points, RATES[top] - 1).T @ moved * (2 / RATES[top])
        series[0] /= 2
        g = chebyshev.chebval(2 * np.arcsinh(u / sigma[k] / lowest) / reach - 1, series)
        out[k] = _forms(u, g, skewness[k] / 6 - length / (2 * LATE**2 * sigma[k]))
    return out


def _forms(u: FloatArray, g: ComplexArray, twist: float) -> FloatArray:
    """P and Q of one transfer function; ``twist``: Q where u = 0."""
    square = u[1:] ** 2 / (1 + u[1:] ** 2)
    out = np.empty((u.size, 2))
    out[0] = 0.5, twist
    out[1:, 0], out[1:, 1] = (1 - g.real[1:]) / square, g.imag[1:] / square**1.5
    low = int(np.searchsorted(u, FITTED))
    near = u[low : int(np.searchsorted(u, 3 * FITTED)) + 4]
    powers = 2 * np.arange(1, 6)
    for k in (0, 1):
        rise = out[low : low + near.size, k] - out[0, k]
        system = near[:, None] ** (powers + 2)
        fit = np.linalg.lstsq(system, rise * near**2, rcond=None)[0]
        out[1:low, k] = out[0, k] + (u[1:low, None] ** powers) @ fit
    return out
