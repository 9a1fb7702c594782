"""What the study of changes answers.

Gains count in the direction that is better: a tailing that falls has a positive gain. NaN where a
value does not exist.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import permutations
from typing import Literal, overload

import numpy as np

from tailrace.display import Handed
from tailrace.journey.itinerary import Itinerary
from tailrace.measures.registry import METRICS, SIGNALS
from tailrace.quantities.arrays import AnyArray, BoolArray, FloatArray, IntArray
from tailrace.quantities.described import Description, described
from tailrace.scenario.changed import changed, on_columns
from tailrace.scenario.scenario import Scenario
from tailrace.studies.engine import Engine
from tailrace.studies.improving.aims import Aim, Constraints

NAN = float("nan")
MONEY = "currency"
"""Unit of money: the file's own currency."""
HARDLY = 0.05
"""Share of the area under the staircase that an order may lose and hardly matter (our own)."""
LEAST_WORTH = 0.05
"""Of the start's metric: a smaller total gain is not worth the work (our own choice)."""

Reason = Literal[
    "",
    "forbidden",
    "not computed",
    "undefined",
    "breaks alone",
    "breaks beside",
    "breaks instead",
    "rival better",
    "rival equal",
    "rival untried",
    "not found",
    "impossible",
    "no gain",
    "harmful",
]
"""Why a change is left out: the method forbids it; no combination with it could be computed, has
the metric, or keeps to the constraints; it breaks them beside the others or in the place of its
rivals; a change that it excludes (a rival) brings more or as much, or was not exchanged for it; the
search did not find it to bring more; it cannot be combined; it brings nothing measurable; it harms.
"""

Outcome = Literal[
    "infeasible", "no gain", "needed", "within error", "within uncertainty", "small", "worth it"
]
"""Of the whole study: nothing keeps to the constraints; nothing better; the start breaks them; the
gain is below the discretisation error, within the input uncertainty, below LEAST_WORTH; or else."""


@dataclass(frozen=True, kw_only=True)
class Violation:
    """A constraint that an instrument does not keep to: its name, the value and the limit in SI."""

    constraint: str
    value: float
    limit: float


def _metric(name: str) -> Description:
    """Of a metric's array, by combination and solute."""
    return replace((METRICS | SIGNALS)[name].description, along=("combination", "solute"))


@dataclass(frozen=True, kw_only=True)
class ByColumn:
    """The aim's metric on each of several columns."""

    names: tuple[str, ...] = described("columns", "", along=("column",), names=True)
    value: FloatArray = described(
        "the metric as recorded of the solute or pair that has it worst",
        along=("combination", "column"),
    )
    error: FloatArray = described(
        "discretisation error of the value", along=("combination", "column")
    )
    of: AnyArray = described("solute or pair with this value", "", along=("combination", "column"))
    ceiling: FloatArray = described(
        "value of the column's own peaks as the start runs it", along=("column",)
    )

    @property
    def kept(self) -> FloatArray:
        """Value over what the column alone would give. (combinations, columns) array, 1."""
        return np.asarray(self.value / self.ceiling)


@dataclass(frozen=True, kw_only=True)
class Combinations:
    """Every combination of changes that was simulated; the first is the start, without any."""

    taken: BoolArray = described("whether it has the change", along=("combination", "change"))
    value: FloatArray = described("the aim's metric as recorded", along=("combination",))
    error: FloatArray = described("discretisation error of the value", along=("combination",))
    of: AnyArray = described("solute or pair a/b with this value", "", along=("combination",))
    ceiling: FloatArray = described("value of the column's own peaks", along=("combination",))
    theory: FloatArray = described(
        "value by the sum of textbook variances, as if all peaks were Gaussian",
        along=("combination",),
    )
    cost: FloatArray = described("cost of all its changes", MONEY, along=("combination",))
    effort: FloatArray = described("working time of all its changes", "s", along=("combination",))
    pressure: FloatArray = described(
        "pressure at its highest along a programme, whole path", "Pa", along=("combination",)
    )
    cell_pressure: FloatArray = described(
        "pressure at its highest along a programme, at the cell's inlet",
        "Pa",
        along=("combination",),
    )
    cell_limit: FloatArray = described("pressure that the cell bears", "Pa", along=("combination",))
    signal: FloatArray = described(
        "least signal of all solutes, over the start's", along=("combination",)
    )
    noise: FloatArray = described("noise, over the start's", along=("combination",))
    signal_to_noise: FloatArray = described(
        "least signal-to-noise ratio of all solutes, over the start's", along=("combination",)
    )
    computed: BoolArray = described("whether it could be computed", along=("combination",))
    satisfied: BoolArray = described("whether it keeps to every constraint", along=("combination",))
    warnings: AnyArray = described("warnings, one a line", "", along=("combination",))
    solutes: tuple[str, ...] = described("solutes", "", along=("solute",), names=True)
    recorded: dict[str, FloatArray] = described("metrics of the recorded peaks", entries=_metric)
    numerical_error: dict[str, FloatArray] = described(
        "discretisation errors of the recorded metrics", entries=_metric
    )
    column_alone: dict[str, FloatArray] = described(
        "metrics of the column with an ideal injection", entries=_metric
    )
    signals: dict[str, FloatArray] = described(
        "signal and noise of the recorded peaks", entries=_metric
    )
    textbook: dict[str, FloatArray] = described(
        "mean and variance by the textbook sums over all parts", entries=_metric
    )
    by_column: ByColumn | None = described(
        "the same on each of several columns, of whose kept shares the value is the mean",
        default=None,
    )

    def row(self, taken: BoolArray | list[bool]) -> int:
        """Row of the combination with these changes; KeyError where it was not simulated."""
        found = np.flatnonzero((self.taken == np.asarray(taken)).all(axis=1))
        if not found.size:
            raise KeyError("this combination was not simulated")
        return int(found[0])

    def violations(self, row: int, limits: Constraints) -> tuple[Violation, ...]:
        """Constraints that a combination does not keep to, the limit of its cell among them."""
        found = [
            Violation(constraint=name, value=float(values[row]), limit=float(limit[row]))
            for name, values, limit, sign in self._checks(limits)
            if sign * (values[row] - limit[row]) > 0
        ]
        return tuple(dict.fromkeys(found))

    def keeping(self, limits: Constraints) -> BoolArray:
        """Which combinations have no violations."""
        broken = [sign * (values - limit) > 0 for _, values, limit, sign in self._checks(limits)]
        return np.asarray(~np.any(broken, axis=0))

    def _checks(self, limits: Constraints) -> list[tuple[str, FloatArray, FloatArray, int]]:
        """Of each constraint its name, values, limits, and 1 where more is worse."""
        rows: list[tuple[str, FloatArray, float | FloatArray, int]] = [
            ("pressure", self.pressure, limits.pressure, 1),
            ("cell_pressure", self.cell_pressure, limits.cell_pressure, 1),
            ("cell_pressure", self.cell_pressure, self.cell_limit, 1),
            ("effort", self.effort, limits.effort, 1),
            ("budget", self.cost, limits.budget, 1),
            ("signal", self.signal, limits.signal, -1),
            ("signal_to_noise", self.signal_to_noise, limits.signal_to_noise, -1),
        ]
        return [
            (name, values, np.broadcast_to(limit, np.shape(values)), sign)
            for name, values, limit, sign in rows
        ]


@dataclass(frozen=True, kw_only=True)
class Change:
    """What one change is worth."""

    name: str = described("name of the change", "", along=("change",), names=True)
    cost: float = described("cost", MONEY)
    effort: float = described("working time", "s")
    needs: tuple[str, ...] = described("names of changes that it needs", "")
    excludes: tuple[str, ...] = described(
        "names of changes that it excludes or that exclude it", ""
    )
    caution: str = described("caution from the file", "")
    alone: float = described("gain as the first change, after what it needs")
    alone_error: float = described("discretisation error of the gain as the first change")
    last: float = described("gain as the last step to the best combination that can end with it")
    last_error: float = described("discretisation error of the gain as the last step")
    share: float = described(
        "Shapley value: its share of the total gain, averaged over all orders of the changes"
    )
    share_error: float = described("sampling error of the Shapley value; 0: not sampled")
    theory_alone: float = described("gain as the first change by the sum of variances")
    in_best: bool = described("whether the best combination within the constraints has it")
    heaters: tuple[str, ...] = described(
        "heated parts of the start, where the method forbids the change as it takes their heat", ""
    )
    reason: Reason = described("why the best combination does not have it; empty: it has", "")
    tried: int = described("row of the combination that shows the reason; -1: none", default=-1)
    rivals: tuple[str, ...] = described(
        "changes of the best combination that it excludes", "", default=()
    )
    tried_gain: float = described("gain of that combination over the best", default=NAN)


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step of the best order; step 0 is the start."""

    number: int = described("number of the step; 0: the start")
    change: str = described("name of the change; empty: the start", "")
    taken: tuple[str, ...] = described("names of all changes so far, in their order", "")
    combination: int = described("row of its combination")
    value: float = described("the aim's metric after the step")
    error: float = described("discretisation error of the value")
    of: str = described("solute or pair with this value", "")
    gain: float = described("gain of the step")
    gain_error: float = described("discretisation error of the gain")
    gain_low: float = described("2.5 % quantile of the gain for the input uncertainty")
    gain_high: float = described("97.5 % quantile of the gain for the input uncertainty")
    recovered: float = described("share of the start's loss that all steps so far bring back")
    theory: float = described("value by the sum of variances")
    theory_gain: float = described("gain of the step by the sum of variances")
    cost: float = described("cost of the step", MONEY)
    effort: float = described("working time of the step", "s")
    total_cost: float = described("cost of all steps so far", MONEY)
    total_effort: float = described("working time of all steps so far", "s")
    pressure: float = described("pressure at its highest along a programme, whole path", "Pa")
    cell_pressure: float = described(
        "pressure at its highest along a programme, at the cell's inlet", "Pa"
    )
    signal: float = described("least signal of all solutes, over the start's")
    noise: float = described("noise, over the start's")
    signal_to_noise: float = described("least signal-to-noise ratio, over the start's")
    caution: str = described("caution of the change from the file", "")


@dataclass(frozen=True, kw_only=True)
class Disagreement:
    """Two changes that simulation and the sum of variances rank in opposite order.

    ``better`` and ``worse`` as simulation ranks them by their gain alone; ``simulated`` and
    ``theory`` hold the gain of the better and of the worse: of theory the first is the smaller.
    """

    better: str
    worse: str
    simulated: tuple[float, float]
    theory: tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Expectation:
    """One metric that a measurement after a step should show, with its 95 % interval.

    The interval is of stated input uncertainty; NaN where none is stated: no band can be given.
    """

    step: int = described("step after which it is measured")
    of: str = described("solute, pair a/b, or empty for the whole instrument", "")
    metric: str = described("name of the metric", "")
    unit: str = described("SI unit of the metric", "")
    value: float = described("as simulated", lambda one: one.unit)
    low: float = described("lower end of 95 %", lambda one: one.unit)
    high: float = described("upper end of 95 %", lambda one: one.unit)
    error: float = described("discretisation error", lambda one: one.unit, default=0.0)


@dataclass(frozen=True, kw_only=True)
class Expected:
    """What measurements should show, step by step."""

    rows: tuple[Expectation, ...] = described("in the order of the steps", along=("expectation",))
    samples: int = described("samples of the input uncertainty; 0: the file states none")
    gain_low: FloatArray = described("2.5 % quantile of each step's gain", along=("step",))
    gain_high: FloatArray = described("97.5 % quantile of each step's gain", along=("step",))
    swappable: tuple[int, ...] = described(
        "steps that could as well come after the next one, within input uncertainty",
        along=("sampled_swap",),
        default=(),
    )
    whole_low: float = described("2.5 % quantile of the gain of all steps", default=NAN)
    whole_high: float = described("97.5 % quantile of the gain of all steps", default=NAN)
    typical: bool = described(
        "whether the samples are of typical tolerances of makers, as the file states none",
        default=False,
    )


@dataclass(frozen=True, kw_only=True)
class Improvement(Handed):
    """The answer.

    ``scenario`` is the scenario that was asked about; read back from a record, only its title,
    SHA-256 and text.
    """

    scenario: Scenario
    aim: Aim = described("what is to become better", "")
    constraints: Constraints = described("what combinations keep to, limits of the file among them")
    stop: float = described("least gain of a step that is worth making, over the value before it")
    order: str = described("what the order makes the most of: gain, money or effort", "")
    changes: tuple[Change, ...] = described("in the order of the file", along=("change",))
    combinations: Combinations = described("all that were simulated")
    best: int = described("row of the best combination within the constraints")
    whole: int = described("row of the best combination that the method allows")
    steps: tuple[Step, ...] = described("from the start to the best", along=("step",))
    swappable: tuple[int, ...] = described(
        "steps that could as well come after the next one: swapping them makes no difference "
        "beyond the discretisation error and the input uncertainty",
        along=("swap",),
    )
    theory_order: tuple[str, ...] = described(
        "order in which the sum of variances would make the same steps", "", along=("theory",)
    )
    frontiers: dict[str, IntArray] = described(
        "rows of the combinations within the constraints that no other beats, from the least "
        "demand to the most, by cost, effort, pressure and signal_to_noise",
        entries=lambda demand: Description(
            meaning=f"rows from the least {demand} on", along=(f"place_by_{demand}",)
        ),
    )
    stop_after: int = described("number of the last step that is worth making")
    outcome: Outcome = described("whether the best combination is worth making, or why not", "")
    orders_sampled: int = described(
        "random orders behind the Shapley values of a search; 0: every combination was simulated",
        default=0,
    )
    expected: Expected | None = described("what measurements should show", default=None)
    engine: Engine = described("how the journeys were computed", "", default_factory=Engine)

    def states(self) -> dict[str, Itinerary]:
        """The instrument where it is shown in full: the start, where to stop, the last step."""
        last = len(self.steps) - 1
        numbers = {"as it is": 0}
        if 0 < self.stop_after < last:
            numbers[f"after step {self.stop_after}, where to stop"] = self.stop_after
        if last:
            numbers[f"after step {last}, the last"] = last
        columns = on_columns(self.scenario) or {"": self.scenario}
        return {
            f"{column}: {name}" if column else name: changed(
                one, self.steps[number].taken
            ).itinerary()
            for column, one in columns.items()
            for name, number in numbers.items()
        }

    @property
    def free_first(self) -> tuple[str, ...]:
        """The steps with those that cost nothing first, where that loses hardly anything.

        Empty where they stand first already, or where more than HARDLY of the area under the
        staircase is lost by it, or a constraint broken.
        """
        steps = self.steps[1:]
        free = [one.change for one in steps if not one.cost]
        order = [*free, *(one.change for one in steps if one.cost)]
        if not free or order == [one.change for one in steps]:
            return ()
        names = [one.name for one in self.changes]
        rows = []
        for count in range(1, len(order)):
            try:
                rows.append(self.combinations.row([one in order[:count] for one in names]))
            except KeyError:
                return ()
        if any(self.violations(row) for row in rows):
            return ()
        area = sum(self.gain(one.combination) for one in steps[:-1])
        lost = area - sum(self.gain(row) for row in rows)
        return tuple(order) if lost <= HARDLY * area else ()

    @property
    def start(self) -> float:
        """The metric without any change. float, 1."""
        return float(self.combinations.value[0])

    @property
    def ceiling(self) -> float:
        """The column's own metric as the start runs it. float, 1; NaN where there is none."""
        return float(self.combinations.ceiling[0])

    @property
    def whole_gain(self) -> float:
        """Of ``whole`` over the start; the Shapley values add up to it. float, 1."""
        return self.gain(self.whole)

    @property
    def worth_it(self) -> bool:
        """Whether the best combination is worth making."""
        return self.outcome in ("needed", "worth it")

    @property
    def ties(self) -> tuple[tuple[int, ...], ...]:
        """Numbers of neighbouring steps that may be made in any order."""
        groups: list[list[int]] = []
        for number in self.swappable:
            if groups and groups[-1][-1] == number:
                groups[-1].append(number + 1)
            else:
                groups.append([number, number + 1])
        return tuple(map(tuple, groups))

    @property
    def disagreements(self) -> tuple[Disagreement, ...]:
        """Pairs that the sum of variances ranks the other way round, beyond the errors."""
        found = []
        for one, other in permutations(self.changes, 2):
            doubt = one.alone_error + other.alone_error
            if one.alone - other.alone > doubt and other.theory_alone - one.theory_alone > doubt:
                found.append(
                    Disagreement(
                        better=one.name,
                        worse=other.name,
                        simulated=(one.alone, other.alone),
                        theory=(one.theory_alone, other.theory_alone),
                    )
                )
        return tuple(found)

    @overload
    def gain(self, row: int) -> float: ...
    @overload
    def gain(self, row: IntArray) -> FloatArray: ...
    def gain(self, row: int | IntArray) -> float | FloatArray:
        """Gain of one or several combinations over the start. float or (rows,) array, 1."""
        gain = self.aim.sign * (self.combinations.value[row] - self.start)
        return gain if isinstance(row, np.ndarray) else float(gain)

    def recovered(self, row: int) -> float:
        """Share of the start's loss that a combination brings back. float, 1; NaN without one."""
        lost = self.aim.sign * (self.ceiling - self.start)
        return self.gain(row) / lost if lost > 0 else NAN

    def names(self, row: int) -> tuple[str, ...]:
        """Names of the changes of a combination, in the order of the file."""
        pairs = zip(self.changes, self.combinations.taken[row], strict=True)
        return tuple(change.name for change, taken in pairs if taken)

    def violations(self, row: int) -> tuple[Violation, ...]:
        """Constraints that a combination does not keep to."""
        return self.combinations.violations(row, self.constraints)

    def scenario_with(self, names: tuple[str, ...]) -> Scenario:
        """The scenario with these changes, ready to be simulated."""
        return changed(self.scenario, names)
