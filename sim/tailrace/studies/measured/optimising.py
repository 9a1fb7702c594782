"""Least squares: the optimum, what it leaves open, and how far the covariance can be trusted."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from tailrace.errors import AccuracyError
from tailrace.quantities.arrays import FloatArray

Residuals: TypeAlias = Callable[[FloatArray], FloatArray]
Fixed: TypeAlias = Callable[[float, FloatArray], tuple[float, FloatArray]]
COVERED = 1.959964
"""Standard deviations on either side that hold 95 % of a normal distribution."""
TRUSTED = 0.1
"""By which share the sum of squares may rise otherwise than the covariance says at the ends of
an interval, before the interval is looked for."""
MOST_STEPS = 20
ENDS = 0.01
"""How well the end of an interval is met, in standard deviations."""
TIGHT, LOOSE = 1e-20, 1e-8
FIRST = 1e-4
"""Damping of the first step, over the squared sizes of the parameters."""
MOST, MOST_EXACT = 100, 5000
"""Steps at most."""


@dataclass(frozen=True, kw_only=True)
class Optimum:
    """Where the sum of squares is least.

    Parameters
    ----------
    values : (parameters,) array, any unit
    squares : float, 1
        The sum, of residuals over their standard deviations.
    jacobian : (residuals, parameters) array, over the units of the parameters
    left : (residuals,) array, 1
    """

    values: FloatArray
    squares: float
    jacobian: FloatArray
    left: FloatArray

    @property
    def covariance(self) -> FloatArray:
        """Of the values, (parameters, parameters) array; of residuals with unit variance."""
        size = np.linalg.norm(self.jacobian, axis=0)
        size = np.where(size > 0, size, 1.0)
        _, values, rows = np.linalg.svd(self.jacobian / size, full_matrices=False)
        floored = np.maximum(values, 1e-9 * values[0])
        return np.asarray((rows.T / floored**2) @ rows / np.outer(size, size))


def least_squares(
    residuals: Residuals,
    start: FloatArray,
    jacobian: Callable[[FloatArray], FloatArray],
    *,
    bounds: tuple[FloatArray, FloatArray] = (np.array(-np.inf), np.array(np.inf)),
    exact: bool = False,
    close: float = LOOSE,
) -> Optimum:
    """Minimise a sum of squares within bounds.

    Steps of Levenberg and Marquardt, damped as by Nielsen (report IMM-REP-1999-05, Technical
    University of Denmark; from memory), each the least squares of its linear problem within the
    bounds (``lsq_linear`` of scipy): a parameter at its bound takes no more steps than others.

    ``exact``: whether to go on to the last digits; ``close``: relative change of the sum, foreseen
    for a step without damping, at which it is at rest otherwise. Raises AccuracyError where it does
    not come to rest.
    """
    values, damping, worse = np.clip(start, *bounds), FIRST, 2.0
    left = residuals(values)
    squares, size = float(left @ left), np.zeros(values.size)
    slopes, most = jacobian(values), MOST_EXACT if exact else MOST
    for _ in range(most):
        size = np.maximum(size, np.linalg.norm(slopes, axis=0))
        size[size == 0] = 1.0
        ends = [(end - values) * size for end in bounds]
        turned, corner = np.linalg.qr(slopes / size)
        along = turned.T @ left
        gain = _gain(corner, along, _step(corner, along, 0.0, ends))
        if gain <= (TIGHT if exact else close) * squares:
            return Optimum(values=values, squares=squares, jacobian=slopes, left=left)
        while True:
            step = _step(corner, along, damping, ends)
            new = np.clip(values + step / size, *bounds)
            if np.array_equal(new, values):
                return Optimum(values=values, squares=squares, jacobian=slopes, left=left)
            moved = residuals(new)
            change = squares - float(moved @ moved)
            share = min(change / max(_gain(corner, along, step), 1e-300), 1.0)
            if change > 0:
                break
            damping, worse = damping * worse, 2 * worse
        values, left, squares = new, moved, squares - change
        damping, worse = damping * max(1 / 3, 1 - (2 * share - 1) ** 3), 2.0
        slopes = jacobian(values)
    raise AccuracyError(
        "the fit does not come to rest: free fewer parameters, or give [[uncertain]] for them"
    )


def _step(
    corner: FloatArray, along: FloatArray, damping: float, ends: Sequence[FloatArray]
) -> FloatArray:
    """The step that is best to first order, over the sizes of the parameters."""
    rows = np.concatenate([corner, np.sqrt(damping) * np.eye(along.size)])
    aim = np.concatenate([-along, np.zeros(along.size)])
    free = np.linalg.lstsq(rows, aim, rcond=None)[0]
    if np.all(free >= ends[0]) and np.all(free <= ends[1]):
        return np.asarray(free)
    from scipy.optimize import lsq_linear

    # of a parameter that stands at both ends nothing is left to look for
    low, high = ends
    high = np.maximum(high, low + 1e-300)
    return np.asarray(lsq_linear(rows, aim, (low, high), method="bvls").x)


def _gain(corner: FloatArray, along: FloatArray, step: FloatArray) -> float:
    """By how much a step lessens the sum of squares to first order."""
    return float(along @ along - np.sum(np.square(along + corner @ step)))


def interval(
    ways: tuple[Callable[[FloatArray], float], Fixed],
    optimum: Optimum,
    which: int,
    deviation: float,
    scatter: float,
    limits: tuple[float, float],
) -> tuple[float, float, bool]:
    """95 % interval of one parameter, and whether the covariance would have misled.

    Parameters
    ----------
    ways : two callables
        The sum of squares of values; and ``squares_at(value, others)``, the least one with the
        parameter fixed, and where.
    deviation : float, unit of the parameter
        Its standard uncertainty by the covariance.
    scatter : float, 1
        Variance of the residuals over that assumed.
    limits : tuple of two float, unit of the parameter
    """
    (squares_of, squares_at), ends, misled = ways, list[float](), False
    slope = optimum.covariance[:, which] / optimum.covariance[which, which]
    at = float(optimum.values[which])
    for sign in (-1.0, 1.0):
        end = float(np.clip(at + sign * COVERED * deviation, *limits))
        if end == at:
            ends.append(end)
            continue
        # the others as the covariance has them: no further search where that is as foreseen
        others = optimum.values + slope * (end - at)
        rise = np.sqrt(max(squares_of(others) - optimum.squares, 0.0) / scatter)
        expected = abs(end - at) / deviation
        if abs(rise - expected) > TRUSTED / 2 * expected:
            rise, others = _rise(squares_at, optimum, end, others, scatter)
        if abs(rise - expected) > TRUSTED / 2 * expected:
            misled = True
            end = _end(squares_at, optimum, (at, end, float(rise)), others, scatter, limits)
        ends.append(end)
    return ends[0], ends[1], misled


def _rise(
    squares_at: Fixed,
    optimum: Optimum,
    value: float,
    others: FloatArray,
    scatter: float,
) -> tuple[float, FloatArray]:
    """Root of what the sum of squares rises by, in standard deviations."""
    squares, found = squares_at(value, others)
    return float(np.sqrt(max(squares - optimum.squares, 0.0) / scatter)), found


def _end(
    squares_at: Fixed,
    optimum: Optimum,
    first: tuple[float, float, float],
    others: FloatArray,
    scatter: float,
    limits: tuple[float, float],
) -> float:
    """Where the root of the rise is ``COVERED``: a power of the distance from the optimum between
    two that hold it, a quarter at least of one that is far beyond."""
    at, end, rise = first
    low, high = (at, 0.0), (end, rise)
    for _ in range(MOST_STEPS):
        if abs(high[1] - COVERED) < ENDS:
            break
        if high[1] < COVERED:
            if high[0] in limits:
                break
            # not far enough yet
            step = min(COVERED / max(high[1], 0.2), 4.0)
            new = float(np.clip(at + (high[0] - at) * step, *limits))
            low = high
        elif low[1] > 0:
            # a power of the distance through both
            power = np.log(high[1] / low[1]) / np.log((high[0] - at) / (low[0] - at))
            new = at + (low[0] - at) * (COVERED / low[1]) ** (1 / power)
        else:
            new = low[0] + max(COVERED / high[1], 0.25) * (high[0] - low[0])
        rise, others = _rise(squares_at, optimum, new, others, scatter)
        if rise < COVERED and high[1] > COVERED:
            low = (new, rise)
            if abs(rise - COVERED) < ENDS:
                return new
        else:
            high = (new, rise)
    return high[0]


def groups(correlation: FloatArray, names: Sequence[str], least: float) -> list[tuple[str, ...]]:
    """Names that hang together by correlations, (n, n) array, 1, of at least so much."""
    left, found = set(range(len(names))), []
    while left:
        todo, group = [left.pop()], []
        while todo:
            one = todo.pop()
            group.append(one)
            near = {k for k in left if abs(correlation[one, k]) >= least}
            left -= near
            todo += near
        if len(group) > 1:
            found.append(tuple(names[k] for k in sorted(group)))
    return sorted(found)
