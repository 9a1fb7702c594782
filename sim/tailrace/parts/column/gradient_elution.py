"""When a band leaves a column run with a gradient, in closed form, stretch by stretch.

The composition travels through the column as fast as an unretained solute (velocity u). A band at
z meets at time t what entered at t - z/u, so in that retarded time it moves by
d(z/L) = d(t - z/u) / (t0 k): as long as ln k is a straight line in time, both sides can be
integrated (Snyder, Dolan and Gant, J. Chromatogr. 165 (1979) 3; here for any table of straight
lines, one after the other).
"""

from dataclasses import dataclass, fields

import numpy as np
from scipy.special import exprel

from tailrace.quantities.arrays import FloatArray

MOST_AT_ONCE = 1_000_000
"""Points of programmes that are looked at together."""


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
    if knots.size > MOST_AT_ONCE and len(knots) > 1:
        half = len(knots) // 2
        parts = [
            eluted(knots[rows], log_inverse[rows], dead_time[rows])
            for rows in (slice(half), slice(half, None))
        ]
        names = [one.name for one in fields(Elution)]
        return Elution(
            **{name: np.concatenate([getattr(one, name) for one in parts]) for name in names}
        )
    span, level, rate = _stretches(knots, log_inverse)
    first, pace = np.exp(level), dead_time[:, None] * np.exp(-level)
    # migrated in all of a stretch, and before it; the last one never ends
    whole = span[:, :-1] / pace[:, :-1] * exprel(rate[:, :-1] * span[:, :-1])
    before = np.column_stack([np.zeros_like(dead_time), np.cumsum(whole, axis=1)])
    room = np.where(span > 0, np.maximum(1 - before, 0.0), 0.0)
    needed = pace * room * _log1p_over(rate * pace * room)
    out = (room > 0) & (needed <= span)
    passing = (room > 0) & (np.cumsum(out, axis=1) - out == 0)
    step = np.where(passing, np.minimum(span, needed), 0.0)
    last = first * np.exp(rate * step)
    moved = np.where(out, room, np.column_stack([whole, np.zeros_like(dead_time)]))
    # 1/k is straight in z and its square a parabola: Simpson's rule is exact
    squares = (1 + first) ** 2 + (2 + first + last) ** 2 + (1 + last) ** 2
    lanes = np.arange(len(knots))
    return Elution(
        retention=np.sum(step, axis=1) + dead_time,
        entering_factor=1 / first[lanes, np.argmax(passing, axis=1)],
        leaving_factor=1 / last[lanes, passing.shape[1] - 1 - np.argmax(passing[:, ::-1], axis=1)],
        stretching=np.sum(np.where(passing, moved * squares, 0.0), axis=1) / 6,
    )


def left_column(
    knots: FloatArray, log_inverse: FloatArray, dead_time: FloatArray, entering: FloatArray
) -> FloatArray:
    """When bands leave that enter the same column at many times, (lanes, times) array in s; other
    parameters as of ``eluted``. From how far a band that entered at the first point has come."""
    found = np.empty_like(entering)
    for at, (times, levels, dead) in enumerate(zip(knots, log_inverse, dead_time, strict=True)):
        spans, rises = np.diff(times), np.diff(levels)
        rates = np.append(np.where(spans > 0, rises / np.where(spans > 0, spans, 1.0), 0.0), 0.0)
        paces = dead * np.exp(-levels)
        whole = spans / paces[:-1] * exprel(rates[:-1] * spans)
        come = np.append(0.0, np.cumsum(whole))
        here = np.searchsorted(times, entering[at], side="right") - 1
        since, rate = entering[at] - times[np.maximum(here, 0)], np.where(here < 0, 0, rates[here])
        here = np.maximum(here, 0)
        aim = come[here] + since / paces[here] * exprel(rate * since) + 1
        there = np.searchsorted(come, aim, side="right") - 1
        rate = np.where(there < 0, 0, rates[there])
        there = np.maximum(there, 0)
        more = paces[there] * (aim - come[there])
        found[at] = times[there] + more * _log1p_over(rate * more) + dead
    return found


def _stretches(
    knots: FloatArray, log_inverse: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Length, ln(1/k) at the begin and its slope of every straight line from time zero on that
    lasts in any lane; three (lanes, stretches) arrays."""
    begins, still = np.maximum(knots, 0.0), np.zeros((len(knots), 1))
    spans, rises = np.diff(knots), np.diff(log_inverse)
    rates = np.where(spans > 0, rises / np.where(spans > 0, spans, 1.0), 0.0)
    levels = log_inverse[:, :-1] + rates * np.minimum(begins[:, :-1] - knots[:, :-1], spans)
    length = np.diff(np.column_stack([still, begins, np.full_like(still, np.inf)]))
    level = np.column_stack([log_inverse[:, 0], levels, log_inverse[:, -1]])
    lasting = (length > 0).any(axis=0)
    return length[:, lasting], level[:, lasting], np.column_stack([still, rates, still])[:, lasting]


def _log1p_over(argument: FloatArray) -> FloatArray:
    """ln(1 + z) / z, 1 at zero; infinite where the band never arrives, z at or below -1."""
    inside = np.where(argument > -1, argument, 0.0)
    ratio = np.where(inside == 0, 1.0, np.log1p(inside) / np.where(inside == 0, 1.0, inside))
    return np.where(argument > -1, ratio, np.inf)
