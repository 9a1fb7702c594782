"""Passing a band through a linear part whose impulse response is known in closed form.

The response g(t) is integrated exactly against the cubic that joins the band's samples: weights
w_j = integral of g(t) phi(t/h - j), by Gauss-Legendre panels that never straddle a grid point.
What leaves is then exact at every point of the grid for the cubic that entered, and the part adds
its mean, variance and third cumulant exactly, whatever the step; the shape is of fourth order.
"""

from collections.abc import Callable, Iterator
from functools import lru_cache

import numpy as np
from scipy.fft import irfft, next_fast_len, rfft
from scipy.special import gammainccinv, gammaln, xlogy

from tailrace.errors import BudgetError
from tailrace.quantities.arrays import AnyArray, FloatArray, Number
from tailrace.signals.band import Band
from tailrace.signals.cubic import spread, spread_by_cell
from tailrace.signals.matched import matched

MANY, FEW = 12, 4
SHORT = 0.1
"""Width of panels, over the scale of the response, up to which FEW nodes do. Four nodes are exact
for a cubic times a quartic; by the error term of Gauss-Legendre 3e-13 is left at this width."""
AT_A_TIME = 20_000_000
"""Samples of a response over all lanes that are set up together: about a gigabyte."""
MOST_SAMPLES = 10 * AT_A_TIME
"""Of one response over all lanes: some ten seconds."""
TOGETHER = MOST_SAMPLES // 2 // MANY
"""Cells over all lanes up to which these go together."""
JUMP = np.array([-1, 13, 13, -1]) / 24
"""Differences of the samples, as the cubic kernel shares it out, of a jump by one."""
LEAST_STEPS = 4
"""Steps over the scale of the response from which on its corners can be followed."""
FEW_TAPS = 32
"""Of a convolution, up to which it is summed: of far tails, which third moments weigh most, a way
by frequencies leaves rounding of the peak."""
ROOT_POWER = 4
"""A response that begins with a fractional power of t has its first panel graded by t = u^4."""


def _panels(
    step: FloatArray, begin: FloatArray, end: FloatArray, scale: FloatArray, rooted: bool
) -> Iterator[tuple[int, FloatArray, FloatArray]]:
    """Nodes and weights of panels that cover [begin, end], by lane and cell between grid points.

    They end at every grid point and are no wider than scale. Some cells at a time, with the number
    of the first: as many as fit into ``AT_A_TIME``.
    """
    first = np.floor(begin / step + 1e-9)
    cells = max(1, int(np.ceil(np.max(end / step - first) - 1e-9)))
    _afford(cells * begin.size, step, begin, end)
    edges = step[:, None] * (first[:, None] + np.arange(cells + 1))
    edges = np.clip(edges, begin[:, None], end[:, None])
    spans = np.diff(edges, axis=1)
    widest = np.max(spans / scale[:, None])
    pieces = int(np.ceil(widest))
    _afford(cells * pieces * begin.size, step, begin, end)
    on_unit, its_weights = _unit_nodes(FEW if widest <= SHORT and not rooted else MANY)
    block = max(1, AT_A_TIME // (pieces * MANY * begin.size))
    for here in range(0, cells, block):
        width = spans[:, here : here + block, None] / pieces
        low = edges[:, here : min(here + block, cells), None] + width * np.arange(pieces)
        nodes = np.broadcast_to(on_unit, (width.shape[1], pieces, on_unit.size)).copy()
        weights = np.broadcast_to(its_weights, nodes.shape).copy()
        if rooted and here == 0:
            nodes[0, 0] = on_unit**ROOT_POWER
            weights[0, 0] = its_weights * ROOT_POWER * on_unit ** (ROOT_POWER - 1)
        times = low[..., None] + width[..., None] * nodes
        shape = (begin.size, width.shape[1], -1)
        yield here, times.reshape(shape), (width[..., None] * weights).reshape(shape)


@lru_cache
def _unit_nodes(count: int) -> tuple[FloatArray, FloatArray]:
    """Gauss-Legendre nodes and weights on the interval from 0 to 1."""
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return (nodes + 1) / 2, weights / 2


def _afford(panels: int, step: FloatArray, begin: FloatArray, end: FloatArray) -> None:
    if panels * MANY > MOST_SAMPLES:
        raise BudgetError(
            f"a response of {np.max(end - begin):.3g} s would have to be written in steps of "
            f"{step.min():.3g} s: the injection is too brief, or the volume behind it too large, "
            "for one time grid; bring them closer together"
        )


def passed(
    band: Band,
    density: Callable[[FloatArray], FloatArray],
    begin: FloatArray,
    end: FloatArray,
    scale: FloatArray,
    rooted: bool = False,
) -> Band:
    """Convolve a band with an impulse response.

    On the grid of the band that entered. Raises BudgetError if the response spans more steps than
    ``MOST_SAMPLES`` allows.

    Parameters
    ----------
    density : callable
        (lanes, points) array of times in s -> response in 1/s; smooth between ``begin`` and
        ``end``.
    begin, end : (lanes,) array, s
        Where the response begins, with a jump if need be, and where it may be cut off.
    scale : (lanes,) array, s
        Time over which the response changes; panels are no wider.
    rooted : bool
        The response begins with a fractional power of the time since ``begin``.
    """
    first = np.floor(begin / band.step + 1e-9)
    shares, amounts = [], []
    for here, times, lengths in _panels(band.step, begin, end, scale, rooted):
        lanes, cells, _ = times.shape
        before = first[:, None] + np.arange(here, here + cells)
        offsets = times / band.step[:, None, None] - before[..., None]
        some = density(times.reshape(lanes, -1)).reshape(times.shape) * lengths
        shares.append((here, spread_by_cell(offsets, some)))
        amounts.append(some.sum(axis=-1))
    here, last = shares[-1]
    weights = np.zeros((band.lanes, here + last.shape[1]))
    for here, some in shares:
        weights[:, here : here + some.shape[1]] += some
    left = convolved(band, weights, first - 1)
    if band.jumps is None or np.any(scale < LEAST_STEPS * band.step):
        return left
    more = _of_a_jump(np.concatenate(amounts, axis=1), weights)
    places = np.rint((band.jumps.at - band.start[:, None]) / band.step[:, None]).astype(int) - 1
    rows = [
        _cornered(*lane)
        for lane in zip(left.values, more, places.tolist(), band.jumps.by.tolist(), strict=True)
    ]
    return Band(np.array(rows), left.start, left.step)


def _of_a_jump(amounts: FloatArray, weights: FloatArray) -> FloatArray:
    """What a jump by one becomes at samples, less what becomes of the samples that stand for it.

    amounts (lanes, cells): the response over each step; weights: as they were spread from these.
    From two samples before the first step on.
    """
    cells = amounts.shape[1]
    exact = np.pad(np.cumsum(amounts, axis=1), ((0, 0), (3, 3)), mode="edge")
    exact[:, :3] = 0.0
    spread_out = np.zeros_like(exact)
    for place, share in enumerate(JUMP):
        spread_out[:, place : place + cells + 3] += share * weights
    return np.asarray(exact - np.cumsum(spread_out, axis=1))


def _cornered(
    values: FloatArray, more: FloatArray, places: list[int], by: list[float]
) -> FloatArray:
    """One lane, exact at its samples, with the sums that it had."""
    exact = values.copy()
    for place, height in zip(places, by, strict=True):
        room = exact[place : place + more.size]
        room += height * more[: room.size]
    offset = np.arange(values.size) - values @ np.arange(values.size) / values.sum()
    offset /= np.sqrt(values @ offset**2 / values.sum())
    return matched(exact, offset, offset ** np.arange(4)[:, None] @ values)


def convolved(band: Band, weights: FloatArray, first: AnyArray) -> Band:
    """Convolve a band with weights on its own grid.

    Parameters
    ----------
    weights : (lanes, taps) array, 1
    first : (lanes,) array, 1
        Grid index of the first weight.
    """
    longer, shorter = sorted((band.values, weights), key=lambda one: -one.shape[1])
    count = longer.shape[1] + shorter.shape[1] - 1
    if shorter.shape[1] <= FEW_TAPS:
        values = np.zeros((band.lanes, count))
        for tap in range(shorter.shape[1]):
            values[:, tap : tap + longer.shape[1]] += shorter[:, tap, None] * longer
    else:
        room = next_fast_len(count, real=True)
        values = irfft(rfft(longer, room) * rfft(shorter, room), room)[:, :count]
    return Band(values, band.start + first * band.step, band.step)


def uniform_weights(
    begin: FloatArray, end: FloatArray, step: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Weights of a response that is even between two times and zero elsewhere.

    Parameters
    ----------
    begin, end : (lanes,) array, s
    step : (lanes,) array, s

    Returns
    -------
    weights : (lanes, taps) array, 1
        Their sum is one.
    first : (lanes,) array, 1
        Grid index of the first weight.
    """
    first = np.floor(begin / step)
    count = int(np.max(np.ceil(end / step) - first)) + 4
    edges = np.arange(count + 1) + first[:, None]
    # each cell between grid points is clipped to the rectangle; a cubic needs two Gauss nodes
    low = np.maximum(edges[:, :-1] * step[:, None], begin[:, None])
    high = np.minimum(edges[:, 1:] * step[:, None], end[:, None])
    length = np.maximum(high - low, 0.0)
    nodes, node_weights = _unit_nodes(2)
    times = low[:, :, None] + length[:, :, None] * nodes
    masses = length[:, :, None] * node_weights / (end - begin)[:, None, None]
    positions = times / step[:, None, None] - first[:, None, None] + 1.0
    positions = np.where(length[:, :, None] > 0, positions, 1.0)
    lanes = begin.size
    weights = spread(positions.reshape(lanes, -1), masses.reshape(lanes, -1), count + 4)
    return weights, first - 1


def _too_many(band: Band, length: FloatArray, scale: FloatArray) -> bool:
    """Whether responses of all lanes take too much memory together; (lanes,) arrays, s."""
    cells = np.max(length / band.step) * np.ceil(np.max(band.step / scale))
    return bool(band.lanes > 1 and cells * band.lanes > TOGETHER)


def through_tanks(
    band: Band, residence: Number, tanks: float, truncation: float, read_mean: bool = False
) -> Band:
    """Send a band through equal stirred tanks, exactly for the cubic that joins its samples.

    The response of n tanks with total residence T is the gamma density t^(n-1) exp(-t/c) / c^n
    with c = T/n (MacMullin and Weber, Trans. AIChE 31 (1935) 409).

    Parameters
    ----------
    residence : (lanes,) array, s
        Of all tanks; zero passes the band unchanged.
    tanks : float, 1
        1 or more.
    truncation : float, 1
        Share of the response that may be cut off at its end.
    read_mean : bool
        Mean over the tanks in place of the liquid that leaves the last; whole ``tanks`` only.
    """
    turnover = np.maximum(np.broadcast_to(residence, (band.lanes,)) / tanks, 1e-9 * band.step)
    orders = np.arange(1, round(tanks) + 1) if read_mean else np.array([float(tanks)])

    def density(times: FloatArray) -> FloatArray:
        reduced = times / turnover[:, None]
        total = np.zeros_like(reduced)
        for order in orders:
            total += np.exp(xlogy(order - 1, reduced) - reduced - gammaln(order))
        return np.asarray(total / (turnover[:, None] * len(orders)))

    end = turnover * gammainccinv(orders[-1], truncation)
    if _too_many(band, end, turnover):
        each = zip(band.each, turnover * tanks, strict=True)
        return Band.joined(
            [through_tanks(one, time, tanks, truncation, read_mean) for one, time in each]
        )
    rooted = not float(tanks).is_integer()
    return passed(band, density, np.zeros(band.lanes), end, turnover, rooted)


def through_plates(band: Band, retention: Number, plates: Number, truncation: float) -> Band:
    """Send a band through a linear bed whose exchange is at once in equilibrium.

    The impulse response of convection with dispersion on a half-infinite column (Lapidus and
    Amundson, J. Phys. Chem. 56 (1952) 984) is an inverse Gaussian density: with retention time t0
    and N plates, sqrt(N t0 / (2 pi t^3)) exp(-N (t - t0)^2 / (2 t0 t)).

    Parameters
    ----------
    retention : scalar or (lanes,) array, s
    plates : scalar or (lanes,) array, 1
    truncation : float, 1
        Share of the response that may be cut off at its ends.
    """
    retention = np.broadcast_to(np.asarray(retention, dtype=float), (band.lanes,))
    plates = np.broadcast_to(np.asarray(plates, dtype=float), (band.lanes,))

    def density(times: FloatArray) -> FloatArray:
        mean, n = retention[:, None], plates[:, None]
        safe = np.maximum(times, 1e-6 * mean)
        exponent = -n * (safe - mean) ** 2 / (2 * mean * safe)
        return np.asarray(np.sqrt(n * mean / (2 * np.pi * safe**3)) * np.exp(exponent))

    # outside these bounds the exponent is below log(truncation)
    reach = 1 - np.log(truncation) / plates
    swing = np.sqrt(reach**2 - 1)
    begin, end = retention * (reach - swing), retention * (reach + swing)
    scale = retention / np.sqrt(plates)
    if _too_many(band, end - begin, scale):
        each = zip(band.each, retention, plates, strict=True)
        return Band.joined([through_plates(*one, truncation) for one in each])
    return passed(band, density, begin, end, scale)
