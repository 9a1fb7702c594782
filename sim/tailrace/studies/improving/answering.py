"""Carrying out a planned study of changes, and drawing its conclusions."""

from dataclasses import dataclass, replace

import numpy as np

from tailrace.errors import AccuracyError
from tailrace.studies.improving import searching
from tailrace.studies.improving.accounts import change_of, disagreements, frontiers, steps_of
from tailrace.studies.improving.expecting import expected
from tailrace.studies.improving.ledger import Ledger
from tailrace.studies.improving.ordering import best_order, ties
from tailrace.studies.improving.planning import planned
from tailrace.studies.improving.reasons import stop_after, verdict
from tailrace.studies.improving.result import Improvement
from tailrace.studies.improving.sharing import shares
from tailrace.studies.runner import Runner


def improve(
    scenario,
    aim="plates",
    of="",
    constraints=None,
    stop=0.02,
    order="gain",
    runner=None,
) -> Improvement:
    """Say which of the scenario's changes are worth making, and in which order.

    Parameters
    ----------
    scenario : Scenario
    aim, of, constraints, stop, order
        As of ``tailrace.studies.improving.planning.planned``.
    runner : Runner, optional
        As of ``answer``.

    Returns
    -------
    Improvement

    Raises
    ------
    StudyError, ScenarioError, AccuracyError, MeasureError
        As of ``planned`` and ``answer``.
    """
    return answer(planned(scenario, aim, of, constraints, stop, order), runner)


def answer(plan, runner=None) -> Improvement:
    """Travel the combinations of a plan, and answer.

    Parameters
    ----------
    plan : Plan
    runner : Runner, optional
        One on the threads of this machine if it is left out; its progress counts parts passed and
        journeys read.

    Returns
    -------
    Improvement

    Raises
    ------
    AccuracyError
        Where no journey can be computed.
    MeasureError
        Where the start has no such figure as is aimed at.
    """
    runner = runner or Runner()
    ledger = Ledger(plan, runner)
    choice = _searched(ledger) if plan.searched else _weighed(ledger)
    made = _without_steps(plan, ledger, choice)
    made = replace(made, steps=steps_of(ledger, made, choice.order))
    made = replace(made, stop_after=stop_after(made.steps, plan.stop))
    found = expected(made, runner)
    made = _with_doubts(made, found, choice.open_places)
    worth_it, sentence = verdict(made)
    return replace(made, worth_it=worth_it, verdict=sentence)


def _without_steps(plan, ledger, choice):
    changes = tuple(
        change_of(
            ledger, bit, choice.best, choice.shares.get(bit, 0.0), choice.errors.get(bit, 0.0)
        )
        for bit in range(len(plan.names))
    )
    combinations = ledger.combinations()
    return Improvement(
        scenario=plan.scenario,
        aim=plan.aim,
        constraints=plan.constraints,
        stop=plan.stop,
        order=plan.order,
        changes=changes,
        combinations=combinations,
        best=ledger.rows[choice.best],
        whole=ledger.rows[choice.whole],
        steps=(),
        ties=(),
        theory_order=choice.theory_order,
        disagreements=disagreements(changes),
        frontiers=frontiers(combinations, ledger.score),
        stop_after=0,
        worth_it=False,
        verdict="",
        searched=choice.searched,
    )


@dataclass(frozen=True, kw_only=True)
class _Choice:
    """Combinations and the order, as bits; places in the order that could be swapped."""

    best: int
    whole: int
    order: tuple[int, ...]
    shares: dict[int, float]
    errors: dict[int, float]
    open_places: frozenset[int] = frozenset()
    theory_order: tuple[str, ...] = ()
    searched: str = ""


def _weighed(ledger):
    """Choose among all combinations."""
    best = _best(ledger)
    small = _Small(ledger, best)
    order = small.best_order(small.values)
    return _Choice(
        best=best,
        whole=max(ledger.order, key=lambda one: (ledger.value(one), -one)),
        order=order,
        shares=_shares(ledger),
        errors={},
        open_places=frozenset(small.ties(order)),
        theory_order=small.by_theory(),
    )


def _searched(ledger):
    """Choose among those that a search finds."""
    best = searching.climbed(ledger)
    order = searching.greedy_order(ledger, best)
    shares, errors = searching.shared(ledger, best)
    ledger.travel([best & ~(1 << bit) for bit in order], "last")
    told = searching.stated(ledger)
    return _Choice(best=best, whole=best, order=order, shares=shares, errors=errors, searched=told)


def _with_doubts(made, found, open_places):
    """The answer with what the input uncertainty leaves open."""
    bands = zip(made.steps, found.gain_low, found.gain_high, strict=True)
    steps = tuple(
        replace(step, gain_low=float(low), gain_high=float(high)) for step, low, high in bands
    )
    open_places = open_places | {number - 1 for number in found.undecided}
    return replace(made, steps=steps, ties=grouped(open_places), expected=found)


def grouped(positions) -> tuple[tuple[int, ...], ...]:
    """Numbers of steps that may be made in any order.

    Parameters
    ----------
    positions : set of int
        Steps, from 0, that could as well come after the next one.
    """
    groups = []
    for position in sorted(positions):
        if groups and groups[-1][-1] == position + 1:
            groups[-1].append(position + 2)
        else:
            groups.append([position + 1, position + 2])
    return tuple(map(tuple, groups))


def _best(ledger):
    """The best within the constraints; of those that cannot be told apart, the cheapest."""
    within = [one for one in ledger.order if ledger.meets(one)]
    if not within:
        return 0
    error = {one: float(ledger.scores.error[ledger.rows[one]]) for one in within}
    top = max(within, key=ledger.value)
    alike = [
        one
        for one in within
        if ledger.value(one) >= ledger.value(top) - (one != top) * (error[one] + error[top])
    ]
    rows = ledger.rows
    best = min(
        alike,
        key=lambda one: (ledger.cost[rows[one]], ledger.effort[rows[one]], one.bit_count(), one),
    )
    return _measurable(ledger, best, error)


def _measurable(ledger, best, error):
    """Take out, one after the other, what brings nothing measurable beside the others."""
    while best:
        fewer = [best & ~(1 << bit) for bit in range(best.bit_length()) if best >> bit & 1]
        spare = [
            one
            for one in fewer
            if one in error and ledger.value(best) - ledger.value(one) <= error[best] + error[one]
        ]
        if not spare:
            break
        best = max(spare, key=lambda one: (ledger.value(one), -one))
    return best


def _shares(ledger):
    values = np.full(1 << len(ledger.plan.names), np.nan)
    for one in ledger.order:
        values[one] = ledger.value(one)
    return dict(enumerate(shares(values)))


class _Small:
    """The subsets of one combination, numbered by its own members."""

    def __init__(self, ledger, combination):
        self._ledger, self._combination = ledger, combination
        self.members = [bit for bit in range(combination.bit_length()) if combination >> bit & 1]
        plan = ledger.plan
        prices = {"gain": lambda one: 1.0, "money": lambda one: one.cost}
        prices["effort"] = lambda one: one.effort
        changes = plan.scenario.document.changes
        self.weights = [prices[plan.order](changes[bit]) for bit in self.members]
        self.rows = self._rows()

    def _rows(self):
        count, members = 1 << len(self.members), self.members
        wide = [
            sum(1 << m for at, m in enumerate(members) if one >> at & 1) for one in range(count)
        ]
        return np.array([self._ledger.rows.get(one, -1) for one in wide])

    def _told(self, values):
        return np.where(self.rows < 0, np.nan, np.asarray(values, dtype=float)[self.rows])

    @property
    def values(self):
        return self._told(self._ledger.score)

    def best_order(self, values):
        """Members in the best order, as bits of the whole."""
        try:
            found = best_order(values, self.rows >= 0, self._broken(), self.weights)
        except ValueError:
            raise AccuracyError(
                "no order of the changes could be computed from step to step; ask for more "
                "accuracy in [numerics], or leave out the change that cannot be computed"
            ) from None
        return tuple(self.members[at] for at in found)

    def by_theory(self):
        """Names in the order that the sum of variances would choose; none where it has no say."""
        values = self._ledger.plan.aim.sign * self._told(self._ledger.scores.theory)
        if np.isnan(values[self.rows >= 0]).any():
            return ()
        return tuple(self._ledger.plan.names[bit] for bit in self.best_order(values))

    def ties(self, order):
        places = [self.members.index(bit) for bit in order]
        errors = self._told(self._ledger.scores.error)
        return ties(self.values, errors, self.rows >= 0, self._broken(), self.weights, places)

    def _broken(self):
        return np.array([row >= 0 and bool(self._ledger.broken[row]) for row in self.rows])
