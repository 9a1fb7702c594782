"""Which tolerances are widened, and by what rule several share what there is to give."""

import numpy as np

from tailrace.studies.tolerance.emulator import Emulator
from tailrace.studies.tolerance.widening import Question

MOST_WEIGHT = 10.0
"""An input that hardly matters would be given any width; no more than this times the rule's."""
ALIKE = "every spread is widened by the same factor"
EQUAL_INFLUENCE = (
    "every input is given the spread with which it adds as much as any other to the standard "
    "uncertainty of {name}, the criterion that is kept least, to first order about the "
    f"stated samples, and at most {MOST_WEIGHT:g} times the factor; then all are widened by the "
    "same factor"
)


def questions(plan, samples, seen, demand) -> list[Question]:
    """Every way of widening that a plan asks for.

    Parameters
    ----------
    plan : Plan
    samples : Samples
    seen : tuple of (inputs, values)
        ``(samples, inputs)`` and ``(outcomes, samples)`` arrays of what is known already.
    demand : Demand

    Returns
    -------
    list of Question
        One for each input alone; then all together, alike and by equal influence.
    """
    count = len(samples.inputs)
    asked = []
    for place in plan.widen:
        weights = np.zeros(count)
        weights[place] = 1.0
        asked.append(Question(title=f"{samples.names[place]} alone", rule="", weights=weights))
    if plan.shared:
        alike = np.zeros(count)
        alike[list(plan.shared)] = 1.0
        asked.append(Question(title="all together, alike", rule=ALIKE, weights=alike))
        place = _least_kept(seen[1], demand)
        asked.append(
            Question(
                title="all together, equal influence",
                rule=EQUAL_INFLUENCE.format(name=demand.criteria[place].name),
                weights=_equal_influence(seen, place, plan.shared),
            )
        )
    return asked


def _least_kept(values, demand):
    """The criterion that the fewest samples keep; of equals the one nearest to its limit."""
    ranks = []
    for place, (one, row) in enumerate(zip(demand.criteria, values, strict=True)):
        margin = np.fmin(row - one.at_least, one.at_most - row)
        deviation = max(float(np.nanstd(row)), np.finfo(float).tiny)
        ranks.append((float(np.mean(margin >= 0)), float(np.nanmean(margin)) / deviation, place))
    return min(ranks)[2]


def _equal_influence(seen, place, shared):
    """(inputs,) array, 1: what each spread is multiplied by before all are widened alike."""
    pulls = np.abs(Emulator(*seen).pulls()[place])[list(shared)]
    level = np.sqrt(np.mean(pulls**2))
    weights = np.zeros(seen[0].shape[1])
    share = np.divide(level, pulls, out=np.full_like(pulls, MOST_WEIGHT), where=pulls > 0)
    weights[list(shared)] = np.clip(share, 1 / MOST_WEIGHT, MOST_WEIGHT)
    return weights
