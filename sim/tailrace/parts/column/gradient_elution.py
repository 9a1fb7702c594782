"""When a band leaves a column run with a gradient, in closed form, stretch by stretch.

The composition travels through the column as fast as an unretained solute (velocity u). A band at
z meets at time t what entered at t - z/u, so in that retarded time it moves by
d(z/L) = d(t - z/u) / (t0 k): as long as ln k is a straight line in time, both sides can be
integrated (Snyder, Dolan and Gant, J. Chromatogr. 165 (1979) 3; here for any table of straight
lines, one after the other).
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.special import exprel

from tailrace.quantities.arrays import FloatArray


@dataclass(frozen=True, kw_only=True)
class Elution:
    """How a narrow band passes the column.

    Parameters
    ----------
    retention : (lanes,) array, s
        From entering to leaving the column.
    entering_factor, leaving_factor : (lanes,) array, 1
        k where the band enters and where it leaves.
    stretching : (lanes,) array, 1
        Mean of (1 + 1/k)^2 along the column. What spreads the band by dz at one place has spread
        it by t0 k_leaving (1 + 1/k) dz / L in time where it leaves.
    """

    retention: np.ndarray
    entering_factor: np.ndarray
    leaving_factor: np.ndarray
    stretching: np.ndarray

    @property
    def variance_passed(self) -> FloatArray:
        """Variance in time of a narrow band behind the column over that before it. 1.

        Two elements of the band that enter dt apart leave dt k_leaving / k_entering apart.
        """
        return np.asarray((self.leaving_factor / self.entering_factor) ** 2)


def eluted(knots: FloatArray, log_inverse: FloatArray, dead_time: FloatArray) -> Elution:
    """Follow a band that enters at time zero.

    Parameters
    ----------
    knots : (lanes, points) array, s
        When the points of the programme enter the column; the first composition holds before
        them, the last behind them.
    log_inverse : (lanes, points) array, 1
        ln(1/k) at those points, straight between them.
    dead_time : (lanes,) array, s
    """
    here, migrated, stretching = (np.zeros_like(dead_time) for _ in range(3))
    entering = leaving = np.exp(log_inverse[:, 0])
    for begin, end, level, rate in _stretches(knots, log_inverse):
        passing = (end > begin) & (migrated < 1)
        if not passing.any():
            continue
        first, pace = np.exp(level), dead_time * np.exp(-level)
        entering = np.where(passing & (here == 0), first, entering)
        room = np.where(passing, 1 - migrated, 0.0)
        needed = pace * room * _log1p_over(rate * pace * room)
        step = np.minimum(end - begin, needed)
        out = passing & (step == needed)
        moved = np.where(out, room, np.where(passing, step / pace * exprel(rate * step), 0.0))
        last = first * np.exp(rate * step)
        # 1/k is straight in z and its square a parabola: Simpson's rule is exact
        squares = (1 + first) ** 2 + (2 + first + last) ** 2 + (1 + last) ** 2
        stretching = stretching + moved * squares / 6
        leaving = np.where(passing, last, leaving)
        here = here + np.where(passing, step, 0.0)
        migrated = np.where(out, 1.0, migrated + moved)
    return Elution(
        retention=here + dead_time,
        entering_factor=1 / entering,
        leaving_factor=1 / leaving,
        stretching=stretching,
    )


def _stretches(knots: FloatArray, log_inverse: FloatArray) -> Iterator[FloatArray]:
    """Begin, end, ln(1/k) at the begin and its slope of every straight line from time zero on that
    lasts in any lane; (4, lanes) arrays."""
    begins, still = np.maximum(knots, 0.0), np.zeros((len(knots), 1))
    spans, rises = np.diff(knots), np.diff(log_inverse)
    rates = np.where(spans > 0, rises / np.where(spans > 0, spans, 1.0), 0.0)
    levels = log_inverse[:, :-1] + rates * np.minimum(begins[:, :-1] - knots[:, :-1], spans)
    begin = np.column_stack([still, begins])
    end = np.column_stack([begins, np.full_like(still, np.inf)])
    level = np.column_stack([log_inverse[:, 0], levels, log_inverse[:, -1]])
    whole = np.stack([begin, end, level, np.column_stack([still, rates, still])])
    yield from np.moveaxis(whole[..., (end > begin).any(axis=0)], 2, 0)


def _log1p_over(argument: FloatArray) -> FloatArray:
    """ln(1 + z) / z, 1 at zero; infinite where the band never arrives, z at or below -1."""
    inside = np.where(argument > -1, argument, 0.0)
    ratio = np.where(inside == 0, 1.0, np.log1p(inside) / np.where(inside == 0, 1.0, inside))
    return np.where(argument > -1, ratio, np.inf)
