"""The bed cut into cells: first-order exchange with one or two kinds of sites, a Langmuir isotherm.

In time units along the mobile phase, x from 0 to the mobile time m, what is kept is the amount:

    c_t + K q_t + f_x = 0 ,   f = c - d c_x ,   q_t = r (c - q)   or   q = c / (1 + b c) .

The flux is given at the inlet and read at the outlet, so that what went in comes out; the bed goes
on behind the outlet as far as dispersion reaches back. Only cells that hold something are computed.
"""

from collections.abc import Iterable

import numpy as np
from numba import njit
from scipy.interpolate import CubicSpline, PchipInterpolator, PPoly

from tailrace.eluent.stream import Stream
from tailrace.errors import AccuracyError, BudgetError
from tailrace.parts.column.cells.grid import exchanging_grid, overloaded_grid, with_outlet
from tailrace.parts.column.part import Column
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution
from tailrace.signals.tableau import IMEX3_EXPLICIT, IMEX3_IMPLICIT, SSP3

MOST_STEPS = 4_000_000
NOTHING = 1e-13
"""Share of the amount that all cells together may drop at the window's ends."""
BLUNT = np.array([1 / 24, 11 / 12, 1 / 24])
"""Means over a step from samples: the variance of a mean, step^2/12, is put back."""

FLOW_STAGES = np.ascontiguousarray(IMEX3_EXPLICIT.stages[1:, :-1])
EXCHANGE_STAGES = np.ascontiguousarray(IMEX3_IMPLICIT.stages[1:, 1:])
"""Of the flow and of the exchange; their first stage, which is the begin of the step, left out."""
LIMITED_KEEP = 1 - np.array([*np.diag(SSP3.stages, -1), SSP3.weights[-1]])
"""What each stage keeps of the begin of the step, beside an Euler step from the stage before."""


def exchanging(column: Column, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a linear bed with first-order exchange, lane by lane.

    Fifth-order upwind differences of the flow, third order in time. Column, Stream, Band and
    Resolution in, Band out. Raises BudgetError or AccuracyError where it takes too many steps, or
    the band does not leave.
    """
    lanes = []
    for lane, (mobile, held, rate, spread) in enumerate(_lanes(column, stream, band)):
        total = (1 + held.sum()) * mobile
        slow = 2 * mobile * held / rate
        grid = exchanging_grid(mobile, held, rate, spread, resolution.refinement)
        count, cell, reach, step = grid
        # before the inlet the band is what will enter; its flux runs ahead of it by the dispersion
        ghosts = (1 + held.sum()) * (cell * np.array([0.0, 0.5, 1.5, 2.5]) - reach)
        ghosts[0] = 0.0
        _affordable(column, band.lane(lane), step)
        inlet, begin = _amounts_by_step(band.lane(lane), step, ghosts)
        late = 30 / rate.min()
        steps = _steps(column, inlet.shape[1], total + late, spread + slow.sum(), step)
        outlet, left = _kernel_exchange(
            inlet,
            count,
            with_outlet(count, reach, cell),
            steps,
            step / cell,
            reach / cell,
            held,
            1 / (rate * step),
            FLOW_STAGES,
            EXCHANGE_STAGES,
        )
        _emptied(column, left)
        # both the inlet and the outlet are means over a step: sharpened once for the two
        bent = np.convolve(outlet, [1, -2, 1])
        sharp = (np.pad(outlet, 1) - bent / 12) / step
        lanes.append((sharp, begin - step / 2, step))
    return _joined(lanes)


def overloaded(column: Column, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a Langmuir bed in equilibrium, lane by lane.

    Limited differences (Koren, in Numerical Methods for Advection-Diffusion Problems, Vieweg 1993,
    117) and three stages of Shu and Osher's: no new extremes. Column, Stream, Band and Resolution
    in, Band out. Raises BudgetError or AccuracyError where it takes too many steps, or the band
    does not leave.
    """
    loading = np.broadcast_to(column.loading(stream), (band.lanes,))
    dead = np.broadcast_to(column.dead_time(stream), (band.lanes,))
    k = np.broadcast_to(np.asarray(stream.retention_factor, float), (band.lanes,))
    variance = np.broadcast_to(sum(column.variances(stream)), (band.lanes,))
    lanes = []
    for lane in range(band.lanes):
        mobile, held, total = dead[lane], k[lane], dead[lane] * (1 + k[lane])
        grid = overloaded_grid(mobile, held, variance[lane], resolution.refinement)
        count, cell, reach, step = grid
        _affordable(column, band.lane(lane), step)
        inlet, begin = _amounts_by_step(band.lane(lane), step, np.zeros(1), rising=True)
        steps = _steps(column, inlet.shape[1], total, variance[lane], step)
        outlet, left = _kernel_langmuir(
            inlet[0],
            count,
            with_outlet(count, reach, cell),
            steps,
            step / cell,
            reach / cell,
            held,
            held * mobile * loading[lane] / step,
            LIMITED_KEEP,
            SSP3.weights,
        )
        _emptied(column, left)
        lanes.append((outlet / step, begin + step / 2, step))
    return _joined(lanes)


def _amounts_by_step(
    band: Band, step: float, ahead: FloatArray, rising: bool = False
) -> tuple[FloatArray, float]:
    """Amounts of a one-lane band by step, some time ahead each.

    Parameters
    ----------
    band : Band
        Of one lane.
    step : float, s
    ahead : (rows,) array, s
        By how much the times of each row run ahead.
    rising : bool
        What has entered never falls, so that the edges of an injection are not negative.

    Returns
    -------
    amounts : (rows, steps) array, 1
        Each row adds up to the amount of the band.
    begin : float, s
        Time at which the first step begins.
    """
    # samples are values at single times, what lies between two edges is a mean
    means = np.convolve(band.values[0], BLUNT)
    entered = np.concatenate([[0.0], np.cumsum(means)]) * band.step[0]
    edges = (np.arange(entered.size) - 1.5) * band.step[0]
    if rising:
        entered = np.minimum(np.maximum.accumulate(entered), entered[-1])
        curve: PPoly = PchipInterpolator(edges, entered)
    else:
        curve = CubicSpline(edges, entered, bc_type="clamped")
    lead, lag = np.ceil(np.max(ahead) / step), np.ceil(max(-np.min(ahead), 0.0) / step)
    count = int(np.ceil((edges[-1] - edges[0]) / step) + lead + lag) + 1
    begin = edges[0] - lead * step
    times = begin + step * np.arange(count + 1) + ahead[:, None]
    amounts = np.diff(curve(np.clip(times, edges[0], edges[-1])), axis=1)
    return amounts, band.start[0] + begin


def _joined(lanes: list[tuple[FloatArray, float, float]]) -> Band:
    """One band of lanes with grids of their own, without the zeros before each.

    ``lanes``: values (times,) in 1/s, time of the first in s, step in s.
    """
    begins = [int(np.argmax(np.abs(values) > 0)) for values, _, _ in lanes]
    count = max(values.size - begin for (values, _, _), begin in zip(lanes, begins, strict=True))
    rows = np.zeros((len(lanes), count))
    for row, (values, _, _), begin in zip(rows, lanes, begins, strict=True):
        row[: values.size - begin] = values[begin:]
    start = [start + begin * step for (_, start, step), begin in zip(lanes, begins, strict=True)]
    return Band(rows, np.array(start), np.array([step for _, _, step in lanes]))


def _lanes(
    column: Column, stream: Stream, band: Band
) -> Iterable[tuple[float, FloatArray, FloatArray, float]]:
    """Mobile time, retention and rate by kind of site, and variance of dispersion of each lane."""
    mobile, held, rate = column.exchange(stream)
    mobile, spread = (
        np.broadcast_to(one, (band.lanes,)) for one in (mobile, column.variances(stream)[0])
    )
    for lane in range(band.lanes):
        sites = (
            np.broadcast_to(one, (len(held), band.lanes))[:, lane].copy() for one in (held, rate)
        )
        held_here, rate_here = sites
        yield float(mobile[lane]), held_here, rate_here, float(spread[lane])


def _affordable(column: Column, band: Band, step: float) -> None:
    """Refuse a one-lane band that enters over too many steps, before memory is asked for them."""
    _within_budget(column, int(band.values.shape[1] * band.step[0] / step))


def _steps(column: Column, inlet: int, total: float, variance: float, step: float) -> int:
    """Steps after which at most rounding is left, with room to spare."""
    steps = inlet + int((total + 60 * np.sqrt(variance) + 60 * variance / total) / step)
    _within_budget(column, steps)
    return steps


def _within_budget(column: Column, steps: int) -> None:
    if steps > MOST_STEPS:
        raise BudgetError(
            f"{column.name}: its march would take {steps} steps, more than {MOST_STEPS}: give "
            "fewer plates or a larger accuracy, or leave out kinetics and capacity"
        )


def _emptied(column: Column, left: float) -> None:
    if left > 1e-6:
        raise AccuracyError(
            f"{column.name}: {left:.2g} of the amount had not left it when the march ended: "
            "give a higher mass_transfer_rate or a larger capacity"
        )


@njit(cache=True, nogil=True, error_model="numpy")
def _kernel_exchange(
    inlet: FloatArray,
    outlet_face: int,
    cells: int,
    steps: int,
    courant: float,
    reach: float,
    held: FloatArray,
    lag: FloatArray,
    flow: FloatArray,
    swap: FloatArray,
) -> tuple[FloatArray, float]:
    """Concentration c and what sites hold, q, by cell. Amount that leaves by step; amount left.

    inlet (4, times): amount a step, at the inlet and at three ghost cells before it; courant: step
    over cell; reach: d over cell; held, lag: K, 1 / (r step) by kind of site; flow, swap: stages.
    """
    guard = 3
    sites = held.size
    c, q = np.zeros(cells + 2 * guard), np.zeros((sites, cells + 2 * guard))
    c0, q0 = c.copy(), q.copy()
    gain, given = np.zeros((4, c.size)), np.zeros((sites, 4, c.size))
    out = np.zeros(steps)
    inside, low, high = 0.0, guard, guard
    tiny = NOTHING * courant / outlet_face
    for t in range(steps):
        entering = inlet[0, t] if t < inlet.shape[1] else 0.0
        inside += entering
        low, high = max(guard, low - 8), min(cells + guard - 1, high + 12)
        c0[low : high + 1] = c[low : high + 1]
        q0[:, low : high + 1] = q[:, low : high + 1]
        for stage in range(4):
            for ghost in range(guard):
                c[guard - 1 - ghost] = inlet[ghost + 1, t] if t < inlet.shape[1] else 0.0
            c[guard + cells :] = c[guard + cells - 1]
            before = entering if low == guard else 0.0
            for i in range(low, high + 1):
                ahead = c[i + 1] - c[i]
                after = (
                    2 * c[i - 2] - 13 * c[i - 1] + 47 * c[i] + 27 * c[i + 1] - 3 * c[i + 2]
                ) / 60 - reach * (15 * ahead - c[i + 2] + c[i - 1]) / 12
                gain[stage, i] = courant * (before - after)
                before = after
                if i == guard + outlet_face - 1:
                    out[t] += flow[3, stage] * after
            own = swap[stage, stage]
            for i in range(low, high + 1):
                cc, share = c0[i], 1.0
                for j in range(stage + 1):
                    cc += flow[stage, j] * gain[j, i]
                for site in range(sites):
                    qq = q0[site, i]
                    for j in range(stage):
                        cc -= held[site] * swap[stage, j] * given[site, j, i]
                        qq += swap[stage, j] * given[site, j, i]
                    q[site, i] = qq
                    part = own * held[site] / (lag[site] + own)
                    cc += part * qq
                    share += part
                c[i] = cc / share
                for site in range(sites):
                    passed = (c[i] - q[site, i]) / (lag[site] + own)
                    given[site, stage, i] = passed
                    q[site, i] += own * passed
        inside -= out[t]
        while high > low and abs(c[high]) < tiny and np.abs(q[:, high]).max() < tiny:
            c[high] = 0.0
            q[:, high] = 0.0
            high -= 1
        while low < high and abs(c[low]) < tiny and np.abs(q[:, low]).max() < tiny:
            c[low] = 0.0
            q[:, low] = 0.0
            low += 1
        if t > inlet.shape[1] and abs(inside) < NOTHING * 100:
            return out[: t + 1], 0.0
    return out, inside


@njit(inline="always")
def _limited(behind: float, ahead: float) -> float:
    """Half a slope between two differences: third order where smooth, none at an extreme."""
    if behind * ahead <= 0:
        return 0.0
    a, b = abs(behind), abs(ahead)
    slope = min(2 * a, 2 * b, (a + 2 * b) / 3)
    return slope / 2 if behind > 0 else -slope / 2


@njit(inline="always")
def _free(total: float, held: float, b: float) -> float:
    """Concentration where the amount is total = c + K c / (1 + b c)."""
    p = 1 + held - b * total
    root: float = np.sqrt(p * p + 4 * b * total)
    return 2 * total / (p + root) if p > 0 else (root - p) / (2 * b)


@njit(cache=True, nogil=True, error_model="numpy")
def _kernel_langmuir(
    inlet: FloatArray,
    outlet_face: int,
    cells: int,
    steps: int,
    courant: float,
    reach: float,
    held: float,
    b: float,
    keep: FloatArray,
    share: FloatArray,
) -> tuple[FloatArray, float]:
    """Total amount by cell in equilibrium. Amount that leaves by step; amount left.

    inlet (times,): amount a step; courant: step over cell; reach: d over cell; b: of the isotherm,
    over amount a step; keep, share: of the three stages, what they keep of the begin of the step
    and what the step takes of them.
    """
    guard = 2
    total, c = np.zeros(cells + 2 * guard), np.zeros(cells + 2 * guard)
    old = total.copy()
    out = np.zeros(steps)
    inside, low, high = 0.0, guard, guard
    tiny = NOTHING * courant / outlet_face
    for t in range(steps):
        entering = inlet[t] if t < inlet.size else 0.0
        inside += entering
        low, high = max(guard, low - 6), min(cells + guard - 1, high + 6)
        old[low : high + 1] = total[low : high + 1]
        for stage in range(3):
            c[0] = c[1] = entering
            c[guard + cells :] = c[guard + cells - 1]
            before = entering if low == guard else 0.0
            for i in range(low, high + 1):
                ahead = c[i + 1] - c[i]
                after = c[i] + _limited(c[i] - c[i - 1], ahead) - reach * ahead
                new = total[i] + courant * (before - after)
                before = after
                total[i] = keep[stage] * old[i] + (1 - keep[stage]) * new
                if i == guard + outlet_face - 1:
                    out[t] += share[stage] * after
            for i in range(low, high + 1):
                c[i] = _free(total[i], held, b)
        inside -= out[t]
        while high > low and abs(total[high]) < tiny:
            total[high] = c[high] = 0.0
            high -= 1
        while low < high and abs(total[low]) < tiny:
            total[low] = c[low] = 0.0
            low += 1
        if t > inlet.size and abs(inside) < NOTHING * 100:
            return out[: t + 1], 0.0
    return out, inside
