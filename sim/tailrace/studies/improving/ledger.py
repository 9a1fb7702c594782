"""Which combinations have been travelled, and what came of them."""

from dataclasses import fields

import numpy as np

from tailrace.errors import AccuracyError, MeasureError
from tailrace.quantities.kinds import show
from tailrace.studies.batch import gathered
from tailrace.studies.improving.readings import Branches
from tailrace.studies.improving.result import Combinations
from tailrace.studies.improving.scoring import Scores, scored


class Ledger:
    """Travels combinations when they are asked for, each instrument once.

    Parameters
    ----------
    plan : Plan
    runner : Runner

    Raises
    ------
    AccuracyError, MeasureError
        Where the start has no such figure.
    """

    def __init__(self, plan, runner):
        self.plan = plan
        self.rows = {one: row for row, one in enumerate(plan.combinations)}
        self._which = list(plan.instruments.which)
        self._limits = list(plan.instruments.cell_limits)
        self._runner = runner
        self._figures = runner.run(plan.journeys)
        self._count = len(plan.journeys.itineraries)
        self._settle()
        if not self.figures["computed"][0]:
            reason = str(self.figures["warnings"][0]).removeprefix("not computed: ")
            raise AccuracyError(f"the start could not be computed: {reason}")
        if np.isnan(self.score[0]):
            raise MeasureError(
                f"expected a start with a {plan.aim.figure}, found a peak that has none; choose "
                "another aim, or record more densely"
            )

    def travel(self, combinations, stage):
        """Travel those of some combinations that are allowed and have not been.

        Parameters
        ----------
        combinations : iterable of int
        stage : str
            Name of the batch.
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
        count = self._count
        fresh = built.itineraries[count:]
        if fresh:
            figures = self._runner.run(
                Branches(stage, fresh, lambda journey: self._where(count + journey))
            )
            total = len(built.itineraries)
            self._figures = gathered(
                [self._figures, figures], [range(self._count), range(self._count, total)]
            )
            self._count = total
        self._settle()

    @property
    def order(self) -> tuple[int, ...]:
        """Combinations by row."""
        return tuple(self.rows)

    def value(self, combination) -> float:
        """Score of a combination, greater is better; minus infinity where it has none. float, 1."""
        row = self.rows.get(combination)
        score = np.nan if row is None else self.score[row]
        return -np.inf if np.isnan(score) else float(score)

    def meets(self, combination) -> bool:
        """Whether a combination that was travelled keeps to every constraint."""
        row = self.rows.get(combination)
        return row is not None and self.value(combination) > -np.inf and not self.broken[row]

    def _where(self, journey):
        return self.plan.where(self.order[self._which.index(journey)])

    def _settle(self):
        """Read scores and prices of all combinations."""
        plan, which = self.plan, self._which
        lanes = plan.journeys.itineraries[0].lanes
        first = {name: values[:1] for name, values in self._figures.items()}
        scores = scored(self._figures, first, lanes, plan.aim)
        self.figures = {name: values[which] for name, values in self._figures.items()}
        self.scores = Scores(
            **{one.name: getattr(scores, one.name)[which] for one in fields(Scores)}
        )
        self.score = plan.aim.sign * self.scores.figure
        changes = plan.scenario.document.changes
        self.taken = np.array(
            [[bool(one >> bit & 1) for bit in range(len(changes))] for one in self.order]
        )
        self.cost = self.taken @ np.array([one.cost for one in changes])
        self.effort = self.taken @ np.array([one.effort for one in changes])
        self.broken = tuple(self._breaks(row) for row in range(len(which)))

    def _breaks(self, row):
        """One sentence for each constraint that a combination does not meet."""
        limits, figures = self.plan.constraints, self.figures
        pressure = figures["pressure/total"][row]
        at_cell = figures["pressure/cell_inlet"][row]
        said = []
        for what, found, most, kind in (
            ("pressure", pressure, limits.pressure, "pressure"),
            ("pressure at the cell", at_cell, limits.cell_pressure, "pressure"),
            ("pressure at the cell", at_cell, self._limits[row], "pressure"),
            ("working time", self.effort[row], limits.effort, "effort"),
        ):
            if found > most:
                said.append(
                    f"{what} {show(found, kind, 3)}, {show(found - most, kind, 2)} above "
                    f"{show(most, kind, 3)}"
                )
        if self.cost[row] > limits.budget:
            said.append(f"costs {self.cost[row]:g}, more than {limits.budget:g}")
        for what, name in (("signal", "signal"), ("signal-to-noise ratio", "signal_to_noise")):
            found, least = getattr(self.scores, name)[row], getattr(limits, name)
            if found < least:
                said.append(f"{what} {found:.3g} of the start's, below {least:.3g}")
        return tuple(dict.fromkeys(said))

    def combinations(self) -> Combinations:
        """All that was travelled."""
        told = {one.name: getattr(self.scores, one.name) for one in fields(Scores)}
        return Combinations(
            **told,
            taken=self.taken,
            cost=self.cost,
            effort=self.effort,
            pressure=self.figures["pressure/total"],
            cell_pressure=self.figures["pressure/cell_inlet"],
            computed=self.figures["computed"],
            broken=self.broken,
            figures=self.figures,
        )
