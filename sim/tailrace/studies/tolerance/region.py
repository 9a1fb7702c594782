"""Where two inputs may lie so that the criteria are kept, whatever the others do."""

from dataclasses import replace

import numpy as np

from tailrace.studies.tolerance.judging import ACCEPTED, REFUSED, clopper_pearson
from tailrace.studies.tolerance.result import Interval, RegionMap

STREAM = 4
POINTS = 9
"""Values of each input."""
DRAWS = 93
"""Of the other inputs at each place: with one refused among them, 95 % is kept with 95 %
confidence (Wilks 1941)."""
WIDER = 2.0
"""The map reaches so many times as far as the inputs are spread."""
MIDDLE = 1.96
"""Normal scores of the middle 95 %."""


def region(model, draws, pair, demand, name) -> RegionMap:
    """Map the allowed region of two inputs.

    Parameters
    ----------
    model : callable
        ``model(draws, name)`` gives an ``Answer`` with a row for each criterion.
    draws : Draws
    pair : tuple of two int
        Positions of the inputs: the one along the columns, the one along the rows.
    demand : Demand
    name : str
        Of the batch.

    Returns
    -------
    RegionMap
        The same draws of the other inputs at every place; they are not bent towards values of the
        two that are unlikely beside them, where inputs are correlated.
    """
    chosen = [draws.inputs[place] for place in pair]
    first, second = (_values(one) for one in chosen)
    states = _states(model, draws, pair, (first, second), demand, name)
    accepted = np.sum(states == ACCEPTED, axis=2)
    undecided = DRAWS - accepted - np.sum(states == REFUSED, axis=2)
    lower = _bounds(accepted, demand.confidence)[0]
    upper = _bounds(accepted + undecided, demand.confidence)[1]
    missed = np.where(upper < demand.required, 0, -1)
    return RegionMap(
        names=tuple(one.name for one in chosen),
        units=tuple(one.unit for one in chosen),
        kinds=tuple(one.quantity for one in chosen),
        first=first,
        second=second,
        accepted=accepted,
        undecided=undecided,
        draws=DRAWS,
        lower=lower,
        upper=upper,
        allowed=np.where(lower >= demand.required, 1, missed),
        required=demand.required,
        confidence=demand.confidence,
        stated=tuple(_stated(one) for one in chosen),
        nominal=tuple(one.nominal for one in chosen),
    )


def _bounds(hits, confidence):
    """One-sided bounds of the probability at every place, two arrays of the shape of ``hits``."""
    pairs = [clopper_pearson(int(one), DRAWS, confidence, sides=1) for one in hits.flat]
    return np.array(pairs).T.reshape(2, *hits.shape)


def _states(model, draws, pair, axes, demand, name):
    """States of the draws of the others at every place, (rows, columns, draws) array of int."""
    first, second = axes
    others = draws.again(DRAWS, STREAM)
    places = np.array([(one, other) for other in second for one in first])
    fixed = tuple(zip(pair, np.repeat(places, DRAWS, axis=0).T, strict=True))
    scores = np.tile(others.scores, (len(places), 1))
    answer = model(replace(others, scores=scores, fixed=fixed), name)
    states = demand.judged(answer.values, answer.errors)
    return states.reshape(len(second), len(first), DRAWS)


def _stated(one):
    if one.distribution.bounded:
        low, high = one.limits()
    else:
        low, high = one.values(np.array([-MIDDLE, MIDDLE])).tolist()
    return Interval(low=low, high=high)


def _values(one):
    """From the low end to the high one, WIDER than stated, within what the field can be."""
    stated = _stated(one)
    ends = [one.nominal + WIDER * (end - one.nominal) for end in (stated.low, stated.high)]
    low, high = np.clip(ends, *one.target.bounds)
    if low <= 0 < stated.low:
        low = stated.low / WIDER
    return np.linspace(low, high, POINTS)
