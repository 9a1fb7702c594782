"""Transfer functions and cumulants of tubes with one bend, tabulated over C, X, De and frequency.

``benchmarks/bent_spectrum_table.py`` makes the table. With sigma and s the standard deviation and
skewness that the tube adds, and u = omega sigma, the transfer function is

    T = exp(-i omega tau + i m f) ((1 + p g^2) + i (q + s/6 - m/L^2) g^(3/2)) / sqrt(1 + u^2) ,
    f = u^3/(L^2 + u^2) , g = u^2/(1 + u^2) , p g^2 = O(u^4) , q g^(3/2) = O(u^5) ,

so that an error of p and q leaves variance and third cumulant as they are; L is ``LATE``, and m is
the part of the residence, ``ahead``, by which the first to arrive are earlier than the mean, over
sigma. p and q at even steps of arsinh(u), and ln sigma^2 and ln s over those of their ``growth``,
stand on a grid of arsinh(C / STIRRED) and ``columns`` of X ``turning``, along which the liquid has
turned about as often. At one C they change with De^4 only. From ``LONG`` on all goes with X.
"""

from collections.abc import Iterator
from functools import lru_cache
from importlib.resources import files

import numpy as np

from tailrace.quantities.arrays import BoolArray, ComplexArray, FloatArray, IntArray, Number

ERROR = 1e-4
"""Of the transfer function, over its value at rest (a test)."""
LEAST, LONG, MOST = 0.01, 2.4, 100.0
"""Fourier numbers: between the first two is a table, beyond to the third all goes with them."""
LEAST_PASSED = 0.03
"""Fourier number below which more than ERROR may pass beyond the last u, or p and q are not known
so well where C is large; the cumulants are."""
STIRRED, TURNED = 300.0, 600.0
"""C from which bends count, and from which X times it says how often the liquid has turned."""
STEP_STRENGTH, STEP_LENGTH, STEP_RATE = 0.24, 0.1, 0.12
"""Of arsinh(C / STIRRED), of ln(X turning) where that is small, of arsinh(u)."""
DENSE, MIXED = 45.0, 5000.0
"""Columns in addition, a radian of the angle whose tangent is X ``turning`` over MIXED: as close as
the liquid turns, until all has mixed."""
ROWS, RATES, FINER = 26, 66, 12
"""Of the grid; values of u, and into how many each of their steps is cut."""
MOST_STRENGTH = 3.6e4
LEAST_SCHMIDT, MORE_SCHMIDT = 60.0, 1 / 160
"""Schmidt number from which on the table holds, and by how much more a unit of C asks for."""
ACROSS, ALONG, OVER_U = 8, 8, 14
"""Points that count for one tube: of C, along a line, of u."""
MOST_LOST = 300.0
"""Of the logarithm: nothing."""
LATE = 6.0
"""u beyond which time counts from what comes first."""
AXIS, STIRRED_AXIS, SWEPT, SHARPLY = 0.5, 0.387, 300.0, 3.0
"""Of the residence, by how much that comes before the mean: on the axis, and where it is swept off
the axis; C X about which it is, and the power of it (the last three found: p and q are smooth)."""
FINEST, FINER_LOG, LEAST_COUNT = 2e-6, 1e-6, 0.02
"""Of T and of the logarithms, of which stored numbers are multiples; what p and q count at least
where u is small, over what they do where it is large."""


def turning(strength: Number) -> FloatArray:
    """X goes with one over this where the liquid has turned about as often. As ``strength``, 1."""
    return np.asarray(np.hypot(TURNED, np.asarray(strength)))


def columns(turned: Number) -> FloatArray:
    """Place of X ``turning`` on the grid. As ``turned``, 1."""
    return np.asarray(np.log(turned) / STEP_LENGTH + DENSE * np.arctan(turned / MIXED))


def highest_square(strength: Number) -> FloatArray:
    """De^2 to which the table reaches. As ``strength``, 1."""
    return np.asarray(strength / (LEAST_SCHMIDT + MORE_SCHMIDT * np.asarray(strength)))


def highest_strength(schmidt: Number) -> FloatArray:
    """C to which the table reaches at a Schmidt number; 0 where it does not. As ``schmidt``, 1."""
    within = (np.asarray(schmidt) - LEAST_SCHMIDT) / MORE_SCHMIDT
    return np.asarray(np.clip(within, 0.0, MOST_STRENGTH) * (1 - 1e-9))


def ahead(turned: Number) -> FloatArray:
    """Part of the residence by which the first to arrive are earlier than the mean, of C X."""
    swept = 1 + (np.asarray(turned) / SWEPT) ** SHARPLY
    return np.asarray(STIRRED_AXIS + (AXIS - STIRRED_AXIS) / swept)


def growth(length: FloatArray) -> tuple[FloatArray, FloatArray]:
    """About how variance and third cumulant rise with X."""
    return length**2 / (1 + length), length**3 / (1 + length**2)


def grid() -> FloatArray:
    """Values of u at which p and q stand."""
    return np.asarray(np.sinh(STEP_RATE * np.arange(RATES)))


def units() -> FloatArray:
    """Of a stored row: logarithms of variance and skewness; all p, all q. (2 + 2 RATES,) array.

    As large for p and q as leaves as much of T.
    """
    u = grid()
    near = u**2 / (1 + u**2)
    counts = np.maximum([near**2, near**1.5], LEAST_COUNT)
    shares = FINEST * np.sqrt(1 + u**2) / counts
    return np.concatenate([[FINER_LOG] * 2, shares.ravel()])


@lru_cache(maxsize=1)
def table() -> tuple[FloatArray, IntArray, IntArray]:
    """Entries, (entries, 2, 2 + 2 RATES): at De = 0, and what the highest De adds; of each row the
    first column and its entry."""
    with files("tailrace.parts.tube.bent").joinpath("spectrum.npz").open("rb") as stream:
        stored = np.load(stream)
        # second differences are small numbers, which take less room
        whole = np.cumsum(np.cumsum(stored["values"], axis=-1, dtype=np.int64), axis=-1)
        first, starts = stored["first"].astype(np.int64), stored["starts"].astype(np.int64)
    return np.ascontiguousarray(np.moveaxis(whole, -1, 0)) * units(), first, starts


def covers(dean: FloatArray, strength: FloatArray, length: FloatArray) -> BoolArray:
    """Which tubes' cumulants are in the table. As ``dean``."""
    inside: BoolArray = (length >= LEAST) & (length <= MOST) & (strength <= MOST_STRENGTH)
    return inside & (dean**2 <= highest_square(strength))


def passes(dean: FloatArray, strength: FloatArray, length: FloatArray) -> BoolArray:
    """Which tubes' transfer functions are. As ``dean``."""
    return covers(dean, strength, length) & (length >= LEAST_PASSED)


def cumulants(dean: FloatArray, strength: FloatArray, length: FloatArray) -> FloatArray:
    """Variance and third cumulant in units of a^2/D; (lanes,) arrays in, (lanes, 2) out.

    Good to 1e-4 and 5e-4 (a test).
    """
    found, far = _cumulants(_read(dean, strength, np.minimum(length, LONG)), length), length > LONG
    if np.any(far):
        half = np.full(np.count_nonzero(far), LONG / 2)
        sooner = _cumulants(_read(dean[far], strength[far], half), half)
        found[far] += (found[far] - sooner) * 2 * (length[far] / LONG - 1)[:, None]
    return found


def response(
    dean: FloatArray, strength: FloatArray, length: FloatArray, omega: FloatArray
) -> ComplexArray:
    """Transfer function in time from the inlet.

    Parameters
    ----------
    dean, strength, length : (lanes,) arrays, 1
        (a w0/nu) sqrt(a/R), C, X.
    omega : (lanes, frequencies) array, D/a^2

    Returns
    -------
    (lanes, frequencies) complex array, 1
        Next to nothing beyond the last u, where the table has less than ERROR.
    """
    size, angle = _logarithm(dean, strength, np.minimum(length, LONG), omega)
    far = length > LONG
    if np.any(far):
        half = np.full(np.count_nonzero(far), LONG / 2)
        sooner, turned = _logarithm(dean[far], strength[far], half, omega[far])
        times = 2 * (length[far] / LONG - 1)[:, None]
        angle[far] += (angle[far] - turned) * times
        size[far] += np.minimum(size[far] - sooner, size[far] / 4) * times
    turn = omega * length[:, None] - angle
    return np.asarray(np.exp(np.maximum(size, -MOST_LOST) - 1j * turn))


def _logarithm(
    dean: FloatArray, strength: FloatArray, length: FloatArray, omega: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Of the size, and the angle in time from the mean; (lanes, frequencies) arrays."""
    state = _read(dean, strength, length)
    variance, third = _cumulants(state, length).T[..., None]
    sigma = np.sqrt(variance)
    u = omega * sigma
    p, q = _at(state[:, 2:].reshape(-1, RATES), u)
    front = ahead(strength * length)[:, None] * length[:, None] / sigma
    twist = third / sigma**3 / 6
    near = u**2 / (1 + u**2)
    x, y = 1 + p * near**2, (q + twist - front / LATE**2) * near**1.5
    much = twist * u**3
    # most of the phase is that of the third cumulant, the rest within half a turn
    rest = np.arctan2(y, x) + front * u**3 / (LATE**2 + u**2) - much
    size = np.log(np.maximum(np.hypot(x, y), 1e-30)) - np.log1p(u**2) / 2
    size = np.where(u > grid()[-1], -MOST_LOST, size)
    return size, much + rest - 2 * np.pi * np.round(rest / (2 * np.pi))


def _cumulants(state: FloatArray, length: FloatArray) -> FloatArray:
    variance, third = growth(np.minimum(length, LONG))
    ratio, skewed = np.exp(state[:, :2]).T
    return np.stack([variance * ratio, third * ratio**1.5 * skewed], axis=1)


def _read(dean: FloatArray, strength: FloatArray, length: FloatArray) -> FloatArray:
    """Logarithms, p and q between entries. (lanes, 2 + 2 RATES) array."""
    entries, first, starts = table()
    across = np.arcsinh(strength / STIRRED) / STEP_STRENGTH
    row = np.minimum(across.astype(int) - ACROSS // 2 + 1, ROWS - ACROSS)
    along = columns(length * turning(strength))
    column = np.floor(along).astype(int) - ALONG // 2 + 1
    column = np.minimum(column, _latest()[row + ACROSS // 2 - 1])
    up, on = _lagrange(across - row, ACROSS), _lagrange(along - column, ALONG)
    fast = (dean**2 / highest_square(np.maximum(strength, 1e-9))) ** 2
    still, more = np.zeros((2, dean.size, entries.shape[-1]))
    for i, j in np.ndindex(ACROSS, ALONG):
        there = np.abs(row + i)  # even in C
        found = entries[starts[there] + column + j - first[there]]
        weight = (up[:, i] * on[:, j])[:, None]
        still += weight * found[:, 0]
        more += weight * found[:, 1]
    return np.asarray(still + fast[:, None] * more)


@lru_cache(maxsize=1)
def _latest() -> IntArray:
    """Column from which a line begins at the latest, so that it ends in all of its rows.

    By the first of these; (ROWS - ACROSS / 2,) array.
    """
    entries, first, starts = table()
    ends = first + np.diff(starts, append=len(entries)) - ALONG
    rows = np.arange(1 - ACROSS // 2, ROWS - ACROSS + 1)[:, None] + np.arange(ACROSS)
    return np.asarray(ends[np.abs(rows)].min(axis=1))


@lru_cache(maxsize=1)
def _finely() -> FloatArray:
    """From values at ``grid`` to those at FINER times as many. (finer, RATES) array."""
    places = np.arange((RATES - 1) * FINER + 1) / FINER
    first = np.minimum(places.astype(int) - OVER_U // 2 + 1, RATES - OVER_U)
    weights = _lagrange(places - first, OVER_U)
    out = np.zeros((places.size, RATES))
    for k in range(OVER_U):  # even in u
        np.add.at(out, (np.arange(places.size), np.abs(first + k)), weights[:, k])
    return out


def _at(rows: FloatArray, u: FloatArray) -> Iterator[FloatArray]:
    """p and q at u of each lane, whose rows follow each other. (lanes, frequencies) arrays."""
    finely = _finely()
    fine = (rows @ finely.T).reshape(len(u), 2, len(finely))
    place = np.minimum(np.arcsinh(u) * FINER / STEP_RATE, fine.shape[2] - 1.0)
    first = np.clip(place.astype(int) - 1, 0, fine.shape[2] - 4)
    weights = _lagrange((place - first).ravel(), 4).T.reshape(4, *u.shape)
    for one in (fine[:, 0], fine[:, 1]):
        yield sum(weights[k] * np.take_along_axis(one, first + k, axis=1) for k in range(4))


def _lagrange(t: FloatArray, points: int) -> FloatArray:
    """Weights of values at 0, 1, ... at t. (len(t), points) array."""
    weights = np.ones((t.size, points))
    for k, j in ((k, j) for k in range(points) for j in range(points) if j != k):
        weights[:, k] *= (t - j) / (k - j)
    return weights
