"""How well a plan tells faults: covariances from the derivatives of all its signals."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tailrace.journey.itinerary import Itinerary
from tailrace.journey.product import cumulants_of
from tailrace.journey.propagation import spread
from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.inputs import inputs_of
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import Where, value_at, where_is
from tailrace.signals.cubic import sample
from tailrace.studies.derivatives import SignalSlopes, of_signal
from tailrace.studies.measured.bench import Setup, matched
from tailrace.studies.measured.faults import Fault, Reach
from tailrace.studies.measured.problem import FOURTH, PLACES, Side

NEAR, MOVED, FARTHEST = 2e-3, 0.03, 0.2
"""Of a value, relative: by which it is changed to see how far signals move; how far, over their
width, they are to move for a derivative; and the largest change for it, of which twice is made.
A signal is rounded to 1e-14 of its height: one that moves by 1e-5 would leave nine digits."""


@dataclass(frozen=True, kw_only=True)
class Known:
    """A fault that shows: where its derivative is taken, and what does just the same."""

    fault: Fault
    reach: Reach
    start: float
    twins: list[str]


def covariances(
    scenario: Scenario, known: Sequence[Known], sides: Sequence[Side]
) -> list[tuple[FloatArray, FloatArray]]:
    """Of the relative changes of the variance, for each fault: it alone being open (first place),
    and all of them; what [[uncertain]] says of other fields holds, and of itself does not."""
    count, spreads = len(known), dict[Any, float]()
    for row in inputs_of(scenario):
        spreads[row.target.place] = row.mean_and_deviation()[1]
    columns = [_column(one) for one in known]
    held = [1.0] * count
    for k, one in enumerate(known):
        spread_ = spreads.pop(one.fault.target.place, None)
        if spread_ is not None:
            held[k] = max(1.0, 1 / (one.reach.slope(one.start) * spread_) ** 2)
    rest = [k for k in range(count) if held[k] > 1]
    for place, spread_ in spreads.items():
        where, now = where_is(scenario.document, place), value_at(scenario.document, place)
        if now and any(side.bench.concerned(where) for side in sides):
            columns.append(Column(where=where, values=(now,), size=1.0))
            held.append(1 / spread_**2)
    corner = _information(columns, sides)
    rest += range(count, corner.shape[1])
    found = []
    for k in range(count):
        own = np.array([*held, *[1e-9] * len(sides)])
        own[k] = 1.0
        some = [k, *(one for one in rest if one != k)]
        alone, every = _inverted(corner[:, some], own[some]), _inverted(corner, own)
        found.append((alone, every[:count, :count]))
    return found


def _inverted(corner: FloatArray, own: FloatArray) -> FloatArray:
    """Covariance of columns, and of what is known of each beside. (n, n) array.

    Twins are told by no measurement: of a sum of squares, inverted, they would keep seven digits.
    """
    triangle = np.linalg.qr(np.concatenate([corner, np.diag(np.sqrt(own))]), mode="r")
    inverse = np.linalg.solve(triangle, np.eye(own.size))
    return np.asarray(inverse @ inverse.T)


@dataclass(frozen=True, kw_only=True)
class Column:
    """A field at a value, SI, or at two between which its secant is taken; the unit that counts,
    or how far apart these are in it; how far the value can be changed, relative; and whether it is
    that of the scenario."""

    where: Where
    values: tuple[float, ...]
    size: float
    room: float = FARTHEST
    here: bool = True


def _column(one: Known) -> Column:
    """About what the scenario says; from there where that is nothing."""
    where, nominal, start = one.fault.where, one.fault.nominal, one.start
    if not one.fault.slight < nominal < np.inf:
        size = one.reach.at(start)
        return Column(where=where, values=(start, nominal), size=size, here=False)
    low, high = one.reach.values[[0, -1]] / start
    room = max(min(high - 1, 1 - low, 3 * FARTHEST) / 3, NEAR)
    size, here = one.reach.slope(start), start == nominal
    return Column(where=where, values=(start,), size=size, room=room, here=here)


def _step(setup: Setup, one: Column) -> float:
    """Change of a value, relative, by which the signal moves as far as a derivative needs it."""
    journeys = [setup.itinerary([one.where], [one.values[0] * by]) for by in (1 - NEAR, 1 + NEAR)]
    ends = [cumulants_of(spread(setup.stood(each))) for each in journeys]
    mean, variance = (
        np.array([sum(float(getattr(part, name)[0]) for part in end) for end in ends])
        for name in ("mean", "variance")
    )
    moved = max(abs(np.ptp(mean)) / np.sqrt(variance[0]), np.ptp(variance) / variance[0], 1e-9)
    return float(np.clip(2 * NEAR * MOVED / moved, NEAR, one.room))


def _derived(side: Side, columns: Sequence[Column], times: FloatArray) -> SignalSlopes:
    """The signal at some times, and how it changes with columns of one value and in time."""
    where, now = [one.where for one in columns], np.array([one.values[0] for one in columns])
    steps, bench = [_step(side.bench, one) for one in columns], side.bench

    def build(some: FloatArray) -> Itinerary:
        return bench.stood(bench.itinerary(where, some.tolist()))

    if side.multiplied and not any(part.expands for part, _ in spread(build(now))):
        return of_signal(build, now, [(0.0, np.inf)] * now.size, times, steps=steps)
    cases = [now]
    for k, step in enumerate(steps):
        cases += [now * (1 + by * step * (np.arange(now.size) == k)) for by in PLACES]
    bands = bench.signals(where, [one.tolist() for one in cases])
    later = np.array([0.0, *PLACES])[:, None] * float(bands.step[0])
    around = np.array([sample(bands.lane(0), one[None])[0] for one in times + later])
    beside = sample(bands, np.tile(times, (len(cases), 1)))[1:].reshape(now.size, 4, -1)
    slopes = np.einsum("i,kij->kj", FOURTH, beside) / (np.array(steps) * now)[:, None]
    turned = FOURTH @ around[1:] / float(bands.step[0])
    return SignalSlopes(values=around[:1], turned=turned[None], slopes=slopes[:, None])


def _changes(side: Side, columns: Sequence[Column]) -> FloatArray:
    """Of what is left of a signal, with the columns' units and the delay, (points, columns and
    delay) array."""
    times = side.times - matched(side.bench, side.bench.signals([], [[]])).delay
    here = [k for k, one in enumerate(columns) if one.here]
    found = _derived(side, [columns[k] for k in here], times)
    slopes = np.zeros((len(columns) + 1, times.size))
    slopes[here], slopes[-1] = found.slopes[:, 0], -found.turned[0]
    for k, one in enumerate(columns):
        if len(one.values) > 1:
            bands = side.bench.signals([one.where], [[value] for value in one.values])
            first, second = sample(bands, np.tile(times, (2, 1)))
            slopes[k] = first - second
        elif not one.here:
            slopes[k] = _derived(side, [one], times).slopes[0, 0]
        slopes[k] /= one.size
    return side.projected(found.values, slopes)


def _information(columns: Sequence[Column], sides: Sequence[Side]) -> FloatArray:
    """What squared is the Fisher information of the columns, then of the delay of each side,
    (n, n) array."""
    count, rows = len(columns), list[FloatArray]()
    for at, side in enumerate(sides):
        used = [k for k, one in enumerate(columns) if side.bench.concerned(one.where)]
        rows.append(np.zeros((side.size, count + len(sides))))
        rows[-1][:, [*used, count + at]] = _changes(side, [columns[k] for k in used])
    return np.asarray(np.linalg.qr(np.concatenate(rows), mode="r"))
