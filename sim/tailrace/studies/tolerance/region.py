"""Where two inputs may lie so that the criteria hold, whatever the others do."""

from dataclasses import replace

import numpy as np

from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.scenario.inputs import Input
from tailrace.studies.samples import Samples
from tailrace.studies.tolerance.judging import ACCEPTED, REFUSED, Demand, clopper_pearson
from tailrace.studies.tolerance.models import Model
from tailrace.studies.tolerance.result import Interval, RegionMap
from tailrace.studies.tolerance.statistics import least_samples

STREAM = 4
POINTS = 9
"""Values of each input."""
WIDER = 2.0
"""How far the map reaches, over the spread of the inputs."""
MIDDLE = 1.96
"""Normal scores of the middle 95 %."""


def region(
    model: Model, samples: Samples, pair: tuple[int, int], demand: Demand, name: str
) -> RegionMap:
    """Map the allowed region of two inputs.

    The same samples of the other inputs at every place; they are not bent towards values of the two
    that are unlikely beside them, where inputs are correlated. As many as show what is demanded
    with one refused among them: 93 for 95 % with 95 % confidence (Wilks 1941).

    Parameters
    ----------
    pair : tuple of two int
        Positions of the inputs: the one along the columns, the one along the rows.
    name : str
        Of the batch.
    """
    count = least_samples(demand.required, demand.confidence, 2)
    one, other = (samples.inputs[place] for place in pair)
    first, second = _values(one), _values(other)
    others = samples.again(count, STREAM)
    states = _states(model, others, pair, (first, second), demand, name)
    accepted = np.sum(states == ACCEPTED, axis=2)
    undecided = count - accepted - np.sum(states == REFUSED, axis=2)
    lower = _bounds(accepted, count, demand.confidence)[0]
    upper = _bounds(accepted + undecided, count, demand.confidence)[1]
    missed = np.where(upper < demand.required, 0, -1)
    return RegionMap(
        names=(one.name, other.name),
        units=(one.unit, other.unit),
        kinds=(one.quantity, other.quantity),
        first=first,
        second=second,
        accepted=accepted,
        undecided=undecided,
        samples=count,
        lower=lower,
        upper=upper,
        allowed=np.where(lower >= demand.required, 1, missed),
        required=demand.required,
        confidence=demand.confidence,
        stated=(_stated(one), _stated(other)),
        nominal=(one.nominal, other.nominal),
    )


def _bounds(hits: IntArray, count: int, confidence: float) -> FloatArray:
    """One-sided bounds of the probability at every place, two arrays of the shape of ``hits``."""
    pairs = [clopper_pearson(int(one), count, confidence, sides=1) for one in hits.flat]
    return np.array(pairs).T.reshape(2, *hits.shape)


def _states(
    model: Model,
    others: Samples,
    pair: tuple[int, int],
    axes: tuple[FloatArray, FloatArray],
    demand: Demand,
    name: str,
) -> IntArray:
    """States of the samples of the others at every place, (rows, columns, samples) array."""
    first, second = axes
    places = np.array([(one, other) for other in second for one in first])
    fixed = tuple(zip(pair, np.repeat(places, len(others), axis=0).T, strict=True))
    scores = np.tile(others.scores, (len(places), 1))
    answer = model(replace(others, scores=scores, fixed=fixed), name)
    states = demand.judged(answer.values, answer.errors)
    return states.reshape(len(second), len(first), len(others))


def _stated(one: Input) -> Interval:
    if one.distribution.bounded:
        low, high = one.limits()
    else:
        low, high = one.values(np.array([-MIDDLE, MIDDLE])).tolist()
    return Interval(low=low, high=high, unit=one.unit)


def _values(one: Input) -> FloatArray:
    """From the low end to the high one, WIDER than stated, within what the field can be."""
    stated = _stated(one)
    ends = [one.nominal + WIDER * (end - one.nominal) for end in (stated.low, stated.high)]
    low, high = np.clip(ends, *one.target.bounds)
    if low <= 0 < stated.low:
        low = stated.low / WIDER
    return np.linspace(low, high, POINTS)
