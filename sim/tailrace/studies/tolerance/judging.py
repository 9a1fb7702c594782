"""Whether samples keep within limits, and with what probability and confidence."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tailrace.measures.metric import Metric
from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.scenario.criteria import Criterion
from tailrace.studies.tolerance.discrepancy import beyond, scores_of
from tailrace.studies.tolerance.result import Acceptance, Interval
from tailrace.studies.tolerance.series import judged_series

ACCEPTED, REFUSED, UNDECIDED = 1, 0, -1


@dataclass(frozen=True, kw_only=True)
class Demand:
    """What every sample is held against: criteria with limits, and what all together ask for."""

    criteria: tuple[Criterion, ...]
    required: float
    confidence: float
    discrepancy: float = 0.0
    seed: int = 1

    @property
    def metrics(self) -> list[Metric]:
        """Of the criteria."""
        return [one.asked.metric for one in self.criteria]

    def states(self, values: FloatArray, errors: FloatArray) -> list[IntArray]:
        """Of each criterion, (samples,) arrays, 1, the model being off as stated."""
        return [
            states_of(value, error, one.at_least, one.at_most)
            for one, value, error in zip(self.criteria, self.as_judged(values), errors, strict=True)
        ]

    def as_judged(self, values: FloatArray) -> list[FloatArray]:
        """Values of each criterion, the model being off as stated, of RSDs those of one series."""
        scores = scores_of(self.seed, values.shape[1]) if self.discrepancy else np.array([])
        values = beyond(self.metrics, values, self.discrepancy, scores)
        return [
            judged_series(one, row, self.seed)
            for one, row in zip(self.criteria, values, strict=True)
        ]

    def judged(self, values: FloatArray, errors: FloatArray) -> IntArray:
        """States of the samples, (samples,) array, 1; values and errors as of ``Answer``."""
        return together(self.states(values, errors))

    def acceptance(self, values: FloatArray, errors: FloatArray) -> Acceptance:
        """How often all criteria together hold; values and errors as of ``Answer``."""
        return acceptance_of(self.judged(values, errors), self.required, self.confidence)


def clopper_pearson(
    hits: int, count: int, confidence: float, sides: int = 2
) -> tuple[float, float]:
    """Bounds of a probability of which some hits among independent trials are known.

    With two sides both bounds together have the confidence, with one each has it alone. Clopper
    and Pearson, Biometrika 26 (1934) 404: exact, never too narrow.
    """
    from scipy.special import betaincinv

    tail = (1 - confidence) / sides
    low = 0.0 if hits == 0 else float(betaincinv(hits, count - hits + 1, tail))
    high = 1.0 if hits == count else float(betaincinv(hits + 1, count - hits, 1 - tail))
    return low, high


def states_of(values: FloatArray, errors: FloatArray, at_least: float, at_most: float) -> IntArray:
    """Judge every sample.

    Parameters
    ----------
    values, errors : (samples,) array, any unit
        The metric and its discretisation error.
    at_least, at_most : float, the same unit
        NaN: no such limit.

    Returns
    -------
    (samples,) array of int, 1
        ACCEPTED or REFUSED; UNDECIDED where the limit lies within the discretisation error, or
        where there is no value.
    """
    margin = np.fmin(np.asarray(values) - at_least, at_most - np.asarray(values))
    error = np.nan_to_num(errors)
    states = np.full(np.shape(values), UNDECIDED)
    states[margin >= error] = ACCEPTED
    states[margin < -error] = REFUSED
    return states


def together(states: Sequence[IntArray]) -> IntArray:
    """Judge all criteria, each a (samples,) array, at once: refused by one is refused."""
    table = np.asarray(states)
    whole = np.full(table.shape[1], UNDECIDED)
    whole[(table == ACCEPTED).all(axis=0)] = ACCEPTED
    whole[(table == REFUSED).any(axis=0)] = REFUSED
    return whole


def acceptance_of(states: IntArray, required: float, confidence: float) -> Acceptance:
    """Count what was judged: (samples,) states."""
    count = len(states)
    accepted = int(np.sum(states == ACCEPTED))
    refused = int(np.sum(states == REFUSED))
    undecided = count - accepted - refused
    low, _ = clopper_pearson(accepted, count, confidence)
    _, high = clopper_pearson(accepted + undecided, count, confidence)
    return Acceptance(
        samples=count,
        accepted=accepted,
        refused=refused,
        undecided=undecided,
        probability=(accepted + undecided / 2) / count,
        interval=Interval(low=low, high=high),
        lower_bound=clopper_pearson(accepted, count, confidence, sides=1)[0],
        required=required,
        confidence=confidence,
    )
