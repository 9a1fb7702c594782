"""Which combinations have been simulated, and what came of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

import numpy as np

from tailrace.errors import AccuracyError, MeasureError
from tailrace.quantities.arrays import FloatArray
from tailrace.studies.batch import gathered, reason_of
from tailrace.studies.improving.branches import Branches
from tailrace.studies.improving.planning import Plan
from tailrace.studies.improving.result import Combinations
from tailrace.studies.improving.scoring import scored
from tailrace.studies.lanes import group
from tailrace.studies.runner import Runner

GROUPS = {
    "recorded": "recorded",
    "numerical_error": "numerical_error",
    "column_alone": "column_alone",
    "signals": "signal",
    "textbook": "textbook",
}
"""Metrics by solute: fields of ``Combinations``, and groups of a batch's metrics."""


class Ledger:
    """Simulates combinations when they are asked for, each instrument once.

    ``rows`` gives the row of a combination in ``table``; ``score`` the value of each row, where
    greater is better. Raises AccuracyError or MeasureError where the start has no such metric.
    """

    table: Combinations
    score: FloatArray

    def __init__(self, plan: Plan, runner: Runner) -> None:
        self.plan, self._runner = plan, runner
        self.rows = {one: row for row, one in enumerate(plan.combinations)}
        self._which = list(plan.instruments.which)
        self._limits = list(plan.instruments.cell_limits)
        self._metrics = runner.run(plan.batch)
        self._count = len(plan.batch.itineraries)
        self._settle()
        if not self.table.computed[0]:
            reason = reason_of(self._metrics, 0)
            raise AccuracyError(f"the start could not be computed: {reason}")
        if np.isnan(self.score[0]):
            raise MeasureError(
                f"aim {plan.aim.key}: expected a start with such a metric, found a peak that has "
                "none; choose another aim, or record more densely"
            )

    def simulate(self, combinations: Iterable[int], stage: str) -> None:
        """Simulate those of some combinations that are allowed and have not been yet.

        ``stage`` names the batch in the checkpoint.
        """
        plan = self.plan
        news = [one for one in dict.fromkeys(combinations) if one not in self.rows]
        news = [one for one in news if plan.allowed(one)]
        if not news:
            return
        built = plan.workshop.build([plan.taken(one) for one in news])
        for one in news:
            self.rows[one] = len(self.rows)
        self._which += built.which
        self._limits += built.cell_limits
        fresh = built.itineraries[self._count :]
        if fresh:
            metrics = self._runner.run(Branches(stage, fresh, self._where(self._count)))
            total = len(built.itineraries)
            self._metrics = gathered(
                [self._metrics, metrics], [range(self._count), range(self._count, total)]
            )
            self._count = total
        self._settle()

    @property
    def order(self) -> tuple[int, ...]:
        """Combinations by row."""
        return tuple(self.rows)

    def value(self, combination: int) -> float:
        """Score of a combination, float, 1; minus infinity where it has none."""
        row = self.rows.get(combination)
        score = np.nan if row is None else self.score[row]
        return -np.inf if np.isnan(score) else float(score)

    def gain(self, before: int, after: int) -> tuple[float, float, float]:
        """Gain from one combination to another, its discretisation error, and that of theory."""
        if before not in self.rows or after not in self.rows:
            return np.nan, np.nan, np.nan
        one, other = self.rows[before], self.rows[after]
        table, sign = self.table, self.plan.aim.sign
        return (
            float(self.score[other] - self.score[one]),
            float(table.error[other] + table.error[one]),
            float(sign * (table.theory[other] - table.theory[one])),
        )

    def satisfies(self, combination: int) -> bool:
        """Whether a combination was simulated, has the metric and keeps to every constraint."""
        row = self.rows.get(combination)
        if row is None or np.isnan(self.score[row]):
            return False
        return bool(self.table.satisfied[row])

    def _where(self, first: int) -> Callable[[int], str]:
        """Says in words which combination a journey is; ``first`` are in earlier batches."""
        order, which = self.order, tuple(self._which)
        return lambda journey: self.plan.where(order[which.index(first + journey)])

    def _settle(self) -> None:
        """Read scores and prices of all combinations."""
        plan, which = self.plan, self._which
        lanes = plan.batch.itineraries[0].lanes
        first = {name: values[:1] for name, values in self._metrics.items()}
        scores = scored(self._metrics, first, lanes, plan.aim)
        metrics = {name: values[which] for name, values in self._metrics.items()}
        changes = plan.scenario.document.changes
        taken = np.array(
            [[bool(one >> bit & 1) for bit in range(len(changes))] for one in self.order]
        )
        columns: dict[str, Any] = {name: values[which] for name, values in scores.items()}
        columns |= {name: group(metrics, key) for name, key in GROUPS.items()}
        table = Combinations(
            **columns,
            solutes=lanes,
            taken=taken,
            cost=taken @ np.array([one.cost for one in changes]),
            effort=taken @ np.array([one.effort for one in changes]),
            pressure=metrics["pressure/total"],
            cell_pressure=metrics["pressure/cell_inlet"],
            cell_limit=np.array(self._limits),
            computed=metrics["computed"],
            satisfied=metrics["computed"],
            warnings=metrics["warnings"],
        )
        sound = [not table.violations(row, plan.constraints) for row in range(len(which))]
        self.table = replace(table, satisfied=table.computed & np.array(sound))
        self.score = plan.aim.sign * table.value
