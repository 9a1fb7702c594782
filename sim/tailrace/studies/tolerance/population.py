"""What share of instruments keeps the criteria, where inputs are not known as well.

What is not known is the same for all instruments: the share depends on it. An emulator of the
samples says how; full journeys are then made at what is less favourable than all but a few.
"""

from dataclasses import replace

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.studies.samples import Samples, uniform_points
from tailrace.studies.tolerance.discrepancy import beyond
from tailrace.studies.tolerance.judging import ACCEPTED, Demand
from tailrace.studies.tolerance.models import Answer, Model
from tailrace.studies.tolerance.result import Population
from tailrace.studies.tolerance.statistics import wilks_rank
from tailrace.studies.tolerance.widening import Emulator
from tailrace.threads import in_threads

STREAM = 5
OUTER, INNER, TOGETHER = 400, 400, 40
"""States of knowledge, and instruments of each, that are emulated; so many states at once."""
KNOWLEDGE = "knowledge"


def population_of(
    model: Model, samples: Samples, answered: Answer, demand: Demand, count: int
) -> Population | None:
    """The share at what is known least favourably; None where all inputs are of one kind.

    ``count``: instruments that travel there.
    """
    unknown = np.array([kind == KNOWLEDGE for kind in samples.kinds])
    if unknown.all() or not unknown.any():
        return None
    outer, inner = samples.again(OUTER, STREAM), samples.again(max(INNER, count), STREAM + 1)
    emulate = Emulator(samples.values(), answered.values)
    lie_off = uniform_points(OUTER, 1, samples.seed, stream=STREAM + 2)[:, 0]
    exact = replace(demand, discrepancy=0.0)
    factors, few = _scores(lie_off), inner.part(slice(0, INNER))

    def shares(begin: int) -> FloatArray:
        known = outer.scores[begin : begin + TOGETHER]
        scores = np.concatenate([given(one, few, unknown).scores for one in known])
        values = emulate(few.with_scores(scores, few.generator).values())
        factor = np.repeat(factors[begin : begin + TOGETHER], INNER)
        values = beyond(demand.metrics, values, demand.discrepancy, factor)
        judged = exact.judged(values, np.zeros_like(values)) == ACCEPTED
        return np.asarray(judged.reshape(-1, INNER).mean(axis=1))

    share = np.concatenate(in_threads(shares, range(0, OUTER, TOGETHER)))
    order = np.argsort(share, kind="stable")
    # so far out that with the confidence no more states are worse than are said to be
    rank = wilks_rank(OUTER, demand.confidence, demand.confidence, 1) or 0
    place = int(order[rank])
    some = given(outer.scores[place], inner.part(slice(0, count)), unknown)
    answer = model(some, "least-favourable")
    values = beyond(
        demand.metrics, answer.values, demand.discrepancy, np.full(count, factors[place])
    )
    known = some.values()[0]
    return Population(
        confidence=demand.confidence,
        median=float(np.median(share)),
        low=float(share[place]),
        knowledge={
            one.name: float(known[index])
            for index, one in enumerate(samples.inputs)
            if unknown[index]
        },
        acceptance=exact.acceptance(values, answer.errors),
    )


def _scores(points: FloatArray) -> FloatArray:
    from scipy.special import ndtri

    return np.asarray(ndtri(points))


def given(known: FloatArray, inner: Samples, unknown: np.ndarray) -> Samples:
    """Samples with some scores given, (inputs,) or (samples, inputs) array, the others correlated
    with them as stated.

    Of a Gaussian copula what differs goes with what is known in a straight line.
    """
    scores = inner.scores.copy()
    correlation = inner.correlation
    across = correlation[np.ix_(~unknown, unknown)]
    if np.any(across):
        pull = across @ np.linalg.inv(correlation[np.ix_(unknown, unknown)])
        scores[:, ~unknown] += (known[..., unknown] - scores[:, unknown]) @ pull.T
    scores[:, unknown] = known[..., unknown]
    return inner.with_scores(scores, inner.generator)
