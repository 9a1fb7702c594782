"""Carrying out a planned study of changes, and drawing its conclusions."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from tailrace.errors import AccuracyError
from tailrace.quantities.arrays import BoolArray, FloatArray, IntArray
from tailrace.scenario.scenario import Scenario
from tailrace.studies.improving import searching
from tailrace.studies.improving.aims import Constraints
from tailrace.studies.improving.assemble import change_of, frontiers, outcome, steps_of, stop_after
from tailrace.studies.improving.expecting import STATED, Told, expected
from tailrace.studies.improving.ledger import Ledger
from tailrace.studies.improving.ordering import best_order, shapley_values, swappable
from tailrace.studies.improving.planning import STOP, Plan, planned
from tailrace.studies.improving.result import Expected, Improvement
from tailrace.studies.runner import Runner


def improve(
    scenario: Scenario,
    aim: str = "",
    of: str = "",
    constraints: Constraints | None = None,
    stop: float = STOP,
    order: str = "gain",
    runner: Runner | None = None,
) -> Improvement:
    """Say which of the scenario's changes are worth making, and in which order.

    Parameters and errors as of ``tailrace.studies.improving.planning.planned`` and ``answer``.
    """
    runner = runner or Runner()
    return answer(planned(scenario, aim, of, constraints, stop, order, runner.engine), runner)


def answer(
    plan: Plan, runner: Runner | None = None, ranges: str = STATED, report: Told | None = None
) -> Improvement:
    """Simulate the combinations of a plan, and answer.

    Parameters
    ----------
    runner : Runner, optional
        One on the threads of this machine if it is left out.
    ranges, report
        As of ``expecting.expected``: what bounds what measurements should show.

    Raises
    ------
    AccuracyError
        Where no journey can be computed.
    MeasureError
        Where the start has no such metric as is aimed at.
    """
    runner = runner or Runner()
    ledger = Ledger(plan, runner)
    choice = _searched(ledger) if plan.searched else _weighed(ledger)
    changes = tuple(
        change_of(
            ledger, bit, choice.best, choice.shares.get(bit, 0.0), choice.errors.get(bit, 0.0)
        )
        for bit in range(len(plan.names))
    )
    steps = steps_of(ledger, changes, choice.order)
    found = Improvement(
        scenario=plan.scenario,
        aim=plan.aim,
        constraints=plan.constraints,
        stop=plan.stop,
        order=plan.order,
        changes=changes,
        combinations=ledger.table,
        best=ledger.rows[choice.best],
        whole=ledger.rows[choice.whole],
        steps=steps,
        swappable=choice.swappable,
        theory_order=choice.theory_order,
        frontiers=frontiers(ledger.table, ledger.score),
        stop_after=stop_after(steps, plan.stop),
        outcome="infeasible",
        orders_sampled=choice.orders_sampled,
    )
    found = _with_uncertainty(found, expected(found, runner=runner, ranges=ranges, report=report))
    return replace(found, outcome=outcome(found), engine=runner.computed)


def _with_uncertainty(found: Improvement, shown: Expected) -> Improvement:
    """The answer with what measurements should show, and what input uncertainty leaves open."""
    steps = tuple(
        replace(step, gain_low=float(low), gain_high=float(high))
        for step, low, high in zip(found.steps, shown.gain_low, shown.gain_high, strict=True)
    )
    open_steps = sorted({*found.swappable, *shown.swappable})
    return replace(found, steps=steps, swappable=tuple(open_steps), expected=shown)


@dataclass(frozen=True, kw_only=True)
class _Choice:
    """Combinations and the order, as bits; Shapley values by bit."""

    best: int
    whole: int
    order: tuple[int, ...]
    shares: dict[int, float]
    errors: dict[int, float] = field(default_factory=dict)
    swappable: tuple[int, ...] = ()
    theory_order: tuple[str, ...] = ()
    orders_sampled: int = 0


def _weighed(ledger: Ledger) -> _Choice:
    """Choose among all combinations."""
    best = best_combination(ledger)
    subsets = _Subsets(ledger, best)
    order = subsets.best_order(subsets.values)
    every = np.full(1 << len(ledger.plan.names), np.nan)
    every[ledger.bits] = ledger.score
    return _Choice(
        best=best,
        whole=ledger.best_of(),
        order=order,
        shares=dict(enumerate(shapley_values(every).tolist())),
        swappable=subsets.swappable(order),
        theory_order=subsets.order_by_theory(),
    )


def _searched(ledger: Ledger) -> _Choice:
    """Choose among those that a search finds."""
    best = searching.climbed(ledger)
    order = searching.greedy_order(ledger, best)
    shares, errors = searching.shared(ledger, best)
    ledger.simulate([best & ~(1 << bit) for bit in order], "last")
    return _Choice(
        best=best,
        whole=best,
        order=order,
        shares=shares,
        errors=errors,
        orders_sampled=searching.ORDERS_SAMPLED,
    )


def best_combination(ledger: Ledger) -> int:
    """The best within the constraints; of those that cannot be told apart, the cheapest.

    From it is taken out, one after the other, what brings nothing measurable beside the others.
    The start where nothing keeps to the constraints.
    """
    table, rows, error = ledger.table, ledger.rows, ledger.table.error
    within = np.flatnonzero(table.satisfied & ~np.isnan(ledger.score))
    if not within.size:
        return 0
    top = within[np.argmax(ledger.score[within])]
    short = ledger.score[top] - ledger.score[within]
    alike = within[(short <= error[within] + error[top]) | (within == top)]
    bits = ledger.bits[alike]
    cheapest = np.lexsort((bits, np.bitwise_count(bits), table.effort[alike], table.cost[alike]))
    best = int(bits[cheapest[0]])
    while best:
        fewer = [best & ~(1 << bit) for bit in range(best.bit_length()) if best >> bit & 1]
        spare = [
            one
            for one in fewer
            if ledger.satisfies(one)
            and ledger.value(best) - ledger.value(one) <= error[rows[best]] + error[rows[one]]
        ]
        if not spare:
            break
        best = max(spare, key=lambda one: (ledger.value(one), -one))
    return best


class _Subsets:
    """The subsets of one combination, numbered by its own members."""

    def __init__(self, ledger: Ledger, combination: int) -> None:
        self._ledger = ledger
        self._members = [bit for bit in range(combination.bit_length()) if combination >> bit & 1]
        self._prices = [ledger.plan.prices[bit] for bit in self._members]
        subsets = np.arange(1 << len(self._members))
        wide = np.zeros_like(subsets)
        for at, bit in enumerate(self._members):
            wide |= (subsets >> at & 1) << bit
        every = np.full(1 << len(ledger.plan.names), -1)
        every[ledger.bits] = np.arange(ledger.bits.size)
        self._rows: IntArray = every[wide]

    def _read(self, values: FloatArray) -> FloatArray:
        return np.where(self._rows < 0, np.nan, values[self._rows])

    @property
    def values(self) -> FloatArray:
        return self._read(self._ledger.score)

    @property
    def _allowed(self) -> BoolArray:
        return self._rows >= 0

    @property
    def _broken(self) -> BoolArray:
        return self._allowed & ~self._ledger.table.satisfied[self._rows]

    def best_order(self, values: FloatArray) -> tuple[int, ...]:
        """Members in the best order, as bits of the whole."""
        try:
            found = best_order(values, self._allowed, self._broken, self._prices)
        except ValueError:
            raise AccuracyError(
                "no order of the changes could be computed from step to step; ask for more "
                "accuracy in [numerics], or leave out the change that cannot be computed"
            ) from None
        return tuple(self._members[at] for at in found)

    def order_by_theory(self) -> tuple[str, ...]:
        """Names in the order that the sum of variances would choose; none where it has no value."""
        plan = self._ledger.plan
        values = plan.aim.sign * self._read(self._ledger.table.theory)
        if np.isnan(values[self._allowed]).any():
            return ()
        return tuple(plan.names[bit] for bit in self.best_order(values))

    def swappable(self, order: tuple[int, ...]) -> tuple[int, ...]:
        """Numbers of steps that could as well come after the next one."""
        places = [self._members.index(bit) for bit in order]
        errors = self._read(self._ledger.table.error)
        found = swappable(self.values, errors, self._allowed, self._broken, self._prices, places)
        return tuple(position + 1 for position in sorted(found))
