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
MOST_STEPS, FAR = 20, 1.5
ENDS = 0.01
"""How well the end of an interval is met, in standard deviations."""
TIGHT = 1e-15
LOOSE = 1e-8


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
        kept = np.maximum(values, 1e-9 * values[0])
        return np.asarray((rows.T / kept**2) @ rows / np.outer(size, size))


def least_squares(
    residuals: Residuals,
    start: FloatArray,
    *,
    jacobian: Callable[[FloatArray], FloatArray] | None = None,
    bounds: tuple[FloatArray, FloatArray] | None = None,
    exact: bool = False,
    close: float = LOOSE,
) -> Optimum:
    """Minimise a sum of squares: trust region, reflective within bounds, Levenberg and Marquardt's
    without (both of scipy); three-point derivatives where none are given.

    ``exact``: whether to go on to the last digits; ``close``: relative change of the sum at which
    it is at rest otherwise. Raises AccuracyError where it does not come to rest.
    """
    from scipy.optimize import least_squares as solve

    close = TIGHT if exact else close
    found = solve(
        residuals,
        start,
        jac="3-point" if jacobian is None else jacobian,
        bounds=(-np.inf, np.inf) if bounds is None else bounds,
        method="lm" if bounds is None else "trf",
        x_scale="jac",
        ftol=close,
        xtol=close,
        gtol=close,
        max_nfev=20_000 if exact else 100,
    )
    if found.status <= 0 and not exact:
        raise AccuracyError(
            "the fit does not come to rest: free fewer parameters, or give [[uncertain]] for them"
        )
    return Optimum(
        values=np.asarray(found.x),
        squares=float(2 * found.cost),
        jacobian=np.asarray(found.jac),
        left=np.asarray(found.fun),
    )


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
        reach = sign * COVERED * deviation
        end = float(np.clip(at + reach, *limits))
        others = optimum.values + slope * (end - at)
        expected = abs(end - at) / deviation
        # the others as the covariance has them: no further search where that is as foreseen
        rise = np.sqrt(max(squares_of(others) - optimum.squares, 0.0) / scatter)
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
    """Where the root of the rise is ``COVERED``: by false position, in steps of a quarter at least
    as long as the far end is far beyond."""
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
        else:
            share = (COVERED - low[1]) / (high[1] - low[1])
            share = max(share, 0.25) if high[1] > FAR * COVERED else share
            new = low[0] + share * (high[0] - low[0])
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
