"""How long instruments keep the criteria as they drift, and when they are tested again.

The samples of the study drift from where they stand, each at a rate of its own, and travel again at
some moments; between two of them every criterion goes in a straight line. When each falls is an
order statistic: the risk and the interval have the errors that a binomial count has.
"""

from collections.abc import Sequence

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.drift import Drift
from tailrace.scenario.drift_table import RetestTable
from tailrace.scenario.scenario import Scenario
from tailrace.studies.axes import cases_of
from tailrace.studies.samples import FAR, Samples, as_axis, scores_of, uniform_points
from tailrace.studies.tolerance.judging import ACCEPTED, Demand, clopper_pearson
from tailrace.studies.tolerance.models import Answer, Model
from tailrace.studies.tolerance.result import Drifted, Drifting, Interval

STREAM = 12
MOMENTS = 8
"""Moments at which all travel, equally far apart."""
COVERAGE = 0.95


def check_drifts(scenario: Scenario, drifts: Sequence[Drift], retest: RetestTable) -> None:
    """Check the far end of every drift as strictly as a file; raises ScenarioError."""
    for one in drifts:
        rates = one.rate + FAR * one.input.distribution.deviation * np.array([-1.0, 0.0, 1.0])
        ends = np.clip(one.input.nominal + rates * retest.months, *one.input.target.bounds)
        for _ in cases_of(scenario, (as_axis(one.input, np.unique(ends)),)):
            pass


def drifting(
    model: Model,
    samples: Samples,
    answered: Answer,
    demand: Demand,
    drifts: Sequence[Drift],
    retest: RetestTable,
) -> Drifting:
    """When instruments that keep all criteria fall below one.

    ``samples``: the instruments, whose metrics as they stand are the first of ``answered``.
    """
    count = len(samples)
    points = uniform_points(count, len(drifts), samples.seed, stream=STREAM)
    scores = scores_of(points, np.eye(len(drifts)))
    times = np.linspace(0.0, retest.months, MOMENTS + 1)
    answers = [answered.part(slice(0, count))]
    for moment, time in enumerate(times[1:]):
        there = drifted(samples, drifts, scores, float(time))
        answers.append(model(there, f"drift-{moment}"))
    room, sure = (
        np.array([_room(demand, one, errors) for one in answers]) for errors in (False, True)
    )
    keeps = demand.judged(answers[0].values, answers[0].errors) == ACCEPTED
    falls, early = (_crossings(times, one[:, :, keeps]) for one in (room, sure))
    lasts, safe = (np.sort(one.min(axis=0)) for one in (falls, early))
    keeping, risk = int(keeps.sum()), retest.risk
    fallen = [int(np.sum(lasts <= time)) for time in times]
    bounds = np.array([clopper_pearson(hits, keeping, COVERAGE) for hits in fallen]).T
    low, high = _ranks(keeping, risk)
    return Drifting(
        drifts=tuple(_row(one) for one in drifts),
        risk=risk,
        confidence=demand.confidence,
        horizon=retest.months,
        injections_per_month=retest.injections_per_month or 0.0,
        instruments=count,
        kept=keeping,
        times=times,
        fallen=np.array(fallen) / max(keeping, 1),
        fallen_low=bounds[0],
        fallen_high=bounds[1],
        interval=_at(lasts, int(risk * keeping)),
        interval_error=Interval(low=_at(lasts, low), high=_at(lasts, high), unit="month"),
        assured=_assured(safe, risk, demand.confidence),
        criteria=tuple(one.name for one in demand.criteria),
        first=np.array([np.mean(row <= times[-1]) if keeping else 0.0 for row in falls]),
    )


def drifted(
    samples: Samples, drifts: Sequence[Drift], scores: FloatArray, months: float
) -> Samples:
    """The samples so many months on; ``scores``: of their rates, (samples, drifts) array, 1."""
    for place, one in enumerate(drifts):
        rates = one.rate + one.input.distribution.deviation * scores[:, place]
        samples = samples.further(one.input, one.where, rates * months)
    return samples


def _room(demand: Demand, answer: Answer, errors: bool) -> FloatArray:
    """What is left to the nearest limit of each criterion, (criteria, samples) array.

    Less the discretisation error where ``errors`` count against it; where there is no value, none
    is left.
    """
    values = demand.as_judged(answer.values)
    rooms = [
        np.fmin(row - one.at_least, one.at_most - row) - (np.nan_to_num(error) if errors else 0.0)
        for one, row, error in zip(demand.criteria, values, answer.errors, strict=True)
    ]
    return np.where(np.isnan(rooms), -np.inf, rooms)


def _crossings(times: FloatArray, room: FloatArray) -> FloatArray:
    """When each criterion of each sample falls, (criteria, samples) array, months; infinite where
    it does not."""
    found = np.full(room.shape[1:], np.inf)
    for at in range(len(times) - 1, 0, -1):
        before, behind = np.maximum(room[at - 1], 0.0), room[at]
        gone = behind < 0
        share = np.divide(before, before - behind, out=np.zeros_like(before), where=gone)
        share = np.where(np.isfinite(behind), share, 0.0)
        found = np.where(gone, times[at - 1] + share * (times[at] - times[at - 1]), found)
    return found


def _at(rising: FloatArray, place: int) -> float:
    return float(rising[place]) if 0 <= place < len(rising) else float("inf")


def _ranks(count: int, risk: float) -> tuple[int, int]:
    """Positions of the order statistics between which that of the risk lies with COVERAGE."""
    from scipy.stats import binom

    low, high = (binom.ppf((1 + side * COVERAGE) / 2, count, risk) for side in (-1, 1))
    return max(int(low) - 1, 0), int(high)


def _assured(rising: FloatArray, risk: float, confidence: float) -> float:
    """For how long the risk stays under what is stated with confidence; 0 where too few show it."""
    hits = -1
    while hits + 1 < len(rising) and (
        clopper_pearson(hits + 1, len(rising), confidence, sides=1)[1] <= risk
    ):
        hits += 1
    return _at(rising, hits) if hits >= 0 else 0.0


def _row(one: Drift) -> Drifted:
    return Drifted(
        name=one.input.name,
        unit=one.input.unit,
        quantity=one.input.quantity,
        nominal=one.input.nominal,
        rate=one.rate,
        deviation=one.input.distribution.deviation,
        because=one.input.because,
    )
