"""The bed cut into cells: first-order exchange, and a Langmuir isotherm.

In time units along the mobile phase, x from 0 to the mobile time m, what is kept is the amount:

    c_t + K q_t + f_x = 0 ,   f = c - d c_x ,   q_t = r (c - q)   or   q = c / (1 + b c) .

The flux is given at the inlet and read at the outlet, so that what went in comes out; the bed goes
on behind the outlet as far as dispersion reaches back. Only cells that hold something are computed.
"""

import numpy as np
from numba import njit

from tailrace.errors import AccuracyError, BudgetError
from tailrace.parts.column.cells.steps import amounts_by_step, joined

CELLS_PER_WIDTH, LIMITED_CELLS_PER_WIDTH = 14.0, 20.0
"""Per standard deviation of what a linear bed lets out, in length, at refinement 1; the second
where slopes are limited, since shocks are narrower than that.
"""
SHORT_OF_STABLE = 0.9
UPWIND_STEP, MANY_PLATES = 0.4, 1000.0
"""Of a cell, per step of the exchange march; stable to about 1.4. Where a step is about as long as
the exchange, its error in the skewness grows with the root of the plates: steps shrink against it.
"""
LEAST_CELLS = 48
MOST_STEPS = 4_000_000
FEW_VISITS = 20.0
"""Below this many exchanges part of the band leaves as narrow as dispersion alone leaves it."""
NOTHING = 1e-13
"""Share of the amount that all cells together may drop at the window's ends."""

# Ascher, Ruuth and Spiteri, Appl. Numer. Math. 25 (1997) 151, scheme (4,4,3): third order, explicit
# for the flow and L-stable for the exchange; the last row is the step itself.
FLOW_STAGES = np.array(
    [
        [1 / 2, 0, 0, 0],
        [11 / 18, 1 / 18, 0, 0],
        [5 / 6, -5 / 6, 1 / 2, 0],
        [1 / 4, 7 / 4, 3 / 4, -7 / 4],
    ]
)
EXCHANGE_STAGES = np.array(
    [
        [1 / 2, 0, 0, 0],
        [1 / 6, 1 / 2, 0, 0],
        [-1 / 2, 1 / 2, 1 / 2, 0],
        [3 / 2, -3 / 2, 1 / 2, 1 / 2],
    ]
)


def exchanging(column, stream, band, resolution):
    """Send a band through a linear bed with first-order exchange, lane by lane.

    Fifth-order upwind differences of the flow, third order in time. Column, Stream, Band and
    Resolution in, Band out.

    Raises
    ------
    BudgetError, AccuracyError
        Where it takes too many steps, or the band does not leave.
    """
    lanes = []
    for lane, (mobile, held, rate, spread) in enumerate(_lanes(column, stream, band)):
        total = (1 + held) * mobile
        visits = mobile * held * rate
        plates = total**2 / spread
        if rate < np.inf and visits > FEW_VISITS:
            plates = total**2 / (spread + 2 * mobile * held / rate)
        count = _cell_count(CELLS_PER_WIDTH, plates, resolution)
        cell = mobile / count
        reach = spread * mobile / (2 * total**2)
        courant = UPWIND_STEP * min(1.0, (MANY_PLATES / plates) ** 0.25)
        step = cell / (1 / courant + 2 * reach / cell)
        # before the inlet the band is what will enter; its flux runs ahead of it by the dispersion
        ghosts = (1 + held) * (cell * np.array([0.0, 0.5, 1.5, 2.5]) - reach)
        ghosts[0] = 0.0
        inlet, begin = amounts_by_step(band.lane(lane), step, ghosts)
        steps = _steps(column, inlet.shape[1], total, spread + 2 * mobile * held / rate, step)
        outlet, left = _kernel_exchange(
            inlet,
            count,
            _beyond(count, reach, cell),
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
    return joined(lanes)


def overloaded(column, stream, band, resolution):
    """Send a band through a Langmuir bed in equilibrium, lane by lane.

    Limited differences (Koren, in Numerical Methods for Advection-Diffusion Problems, Vieweg 1993,
    117) and three stages of Shu and Osher's: no new extremes. Column, Stream, Band and Resolution
    in, Band out.

    Raises
    ------
    BudgetError, AccuracyError
        Where it takes too many steps, or the band does not leave.
    """
    loading = np.broadcast_to(column.loading(stream), (band.lanes,))
    dead = np.broadcast_to(column.dead_time(stream), (band.lanes,))
    k = np.broadcast_to(np.asarray(stream.retention_factor, float), (band.lanes,))
    variance = np.broadcast_to(sum(column.variances(stream)), (band.lanes,))
    lanes = []
    for lane in range(band.lanes):
        mobile, held, total = dead[lane], k[lane], dead[lane] * (1 + k[lane])
        count = _cell_count(LIMITED_CELLS_PER_WIDTH, total**2 / variance[lane], resolution)
        cell = mobile / count
        reach = variance[lane] * mobile / (2 * total**2)
        step = SHORT_OF_STABLE * cell / (2 + 2 * reach / cell)
        inlet, begin = amounts_by_step(band.lane(lane), step, np.zeros(1), rising=True)
        steps = _steps(column, inlet.shape[1], total, variance[lane], step)
        outlet, left = _kernel_langmuir(
            inlet[0],
            count,
            _beyond(count, reach, cell),
            steps,
            step / cell,
            reach / cell,
            held,
            held * mobile * loading[lane] / step,
        )
        _emptied(column, left)
        lanes.append((outlet / step, begin + step / 2, step))
    return joined(lanes)


def _lanes(column, stream, band):
    """Mobile time, its retention, rate and variance of dispersion of each lane."""
    numbers = (*column.exchange(stream), column.variances(stream)[0])
    return zip(*(np.broadcast_to(one, (band.lanes,)) for one in numbers), strict=True)


def _cell_count(per_width, plates, resolution):
    return int(np.ceil(max(LEAST_CELLS, per_width * np.sqrt(plates)) * resolution.refinement))


def _beyond(count, reach, cell):
    """Cells behind the outlet: dispersion upstream fades as exp(-x / reach)."""
    return count + int(np.ceil(30 * reach / cell)) + 4


def _steps(column, inlet, total, variance, step):
    """Steps after which at most rounding is left, with room to spare."""
    steps = inlet + int((total + 60 * np.sqrt(variance) + 60 * variance / total) / step)
    if steps > MOST_STEPS:
        raise BudgetError(
            f"{column.name}: its march would take {steps} steps, more than {MOST_STEPS}: give "
            "fewer plates or a larger accuracy, or leave out kinetics and capacity"
        )
    return steps


def _emptied(column, left):
    if left > 1e-6:
        raise AccuracyError(
            f"{column.name}: {left:.2g} of the amount had not left it when the march ended: "
            "give a higher mass_transfer_rate or a larger capacity"
        )


@njit(cache=True, nogil=True, error_model="numpy")
def _kernel_exchange(inlet, outlet_face, cells, steps, courant, reach, held, lag, flow, swap):
    """Concentration c and what is held q, cell by cell. Amount that leaves by step; amount left.

    inlet (4, times): amount a step, at the inlet and at three ghost cells before it; courant: step
    over cell; reach: d over cell; lag: 1 / (r step); flow, swap: stages.
    """
    guard = 3
    c, q = np.zeros(cells + 2 * guard), np.zeros(cells + 2 * guard)
    c0, q0 = c.copy(), q.copy()
    gain, given = np.zeros((4, c.size)), np.zeros((4, c.size))
    out = np.zeros(steps)
    inside, low, high = 0.0, guard, guard
    tiny = NOTHING * courant / outlet_face
    for t in range(steps):
        entering = inlet[0, t] if t < inlet.shape[1] else 0.0
        inside += entering
        low, high = max(guard, low - 8), min(cells + guard - 1, high + 12)
        c0[low : high + 1] = c[low : high + 1]
        q0[low : high + 1] = q[low : high + 1]
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
                cc, qq = c0[i], q0[i]
                for j in range(stage + 1):
                    cc += flow[stage, j] * gain[j, i]
                for j in range(stage):
                    cc -= held * swap[stage, j] * given[j, i]
                    qq += swap[stage, j] * given[j, i]
                passed = (cc - qq) / (lag + own * (1 + held))
                given[stage, i] = passed
                c[i] = cc - held * own * passed
                q[i] = qq + own * passed
        inside -= out[t]
        while high > low and abs(c[high]) < tiny and abs(q[high]) < tiny:
            c[high] = q[high] = 0.0
            high -= 1
        while low < high and abs(c[low]) < tiny and abs(q[low]) < tiny:
            c[low] = q[low] = 0.0
            low += 1
        if t > inlet.shape[1] and abs(inside) < NOTHING * 100:
            return out[: t + 1], 0.0
    return out, inside


@njit(inline="always")
def _limited(behind, ahead):
    """Half a slope between two differences: third order where smooth, none at an extreme."""
    if behind * ahead <= 0:
        return 0.0
    a, b = abs(behind), abs(ahead)
    slope = min(2 * a, 2 * b, (a + 2 * b) / 3)
    return slope / 2 if behind > 0 else -slope / 2


@njit(inline="always")
def _free(total, held, b):
    """Concentration where the amount is total = c + K c / (1 + b c)."""
    p = 1 + held - b * total
    root = np.sqrt(p * p + 4 * b * total)
    return 2 * total / (p + root) if p > 0 else (root - p) / (2 * b)


@njit(cache=True, nogil=True, error_model="numpy")
def _kernel_langmuir(inlet, outlet_face, cells, steps, courant, reach, held, b):
    """Total amount by cell in equilibrium. Amount that leaves by step; amount left.

    inlet (times,): amount a step; courant: step over cell; reach: d over cell; b: of the isotherm,
    over amount a step. Three stages of Shu and Osher, J. Comput. Phys. 77 (1988) 439.
    """
    guard = 2
    total, c = np.zeros(cells + 2 * guard), np.zeros(cells + 2 * guard)
    old = total.copy()
    out = np.zeros(steps)
    inside, low, high = 0.0, guard, guard
    tiny = NOTHING * courant / outlet_face
    keep, share = (0.0, 0.75, 1 / 3), (1 / 6, 1 / 6, 2 / 3)
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
