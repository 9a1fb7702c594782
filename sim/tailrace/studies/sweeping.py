"""Making a sweep: its cases travel side by side, block after block."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from typing import Any

import numpy as np

from tailrace.display import Handed
from tailrace.errors import BudgetError
from tailrace.journey import Result
from tailrace.journey.itinerary import Itinerary
from tailrace.measures.registry import APEX, PLATES, PLATES_OWN, TAILING, VARIANCE, WIDTH
from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import value_at, with_numbers
from tailrace.studies.axes import MOST_BUILT, Axis, axes_of, cases_of, choice, described
from tailrace.studies.batch import Batch, Metrics
from tailrace.studies.cases import alike, followed
from tailrace.studies.engine import Engine
from tailrace.studies.lanes import result_of
from tailrace.studies.metrics import DROP
from tailrace.studies.neighbours import each_and_next
from tailrace.studies.runner import Runner
from tailrace.studies.stored import Stored

FEW, MANY = 2_000, 100_000
"""Cases above which they are made from few; and above which parts, the column's own peak and what
there is between neighbours are not kept."""
LEADING = (APEX, PLATES, PLATES_OWN, TAILING, VARIANCE, WIDTH)
"""Metrics that are printed of a sweep, where it has them."""
CHECKED = 16
"""Cases at random that are read as a file beside those of which all values are the ends."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A sweep that has not been made yet. Made by ``plan``.

    ``batch``: one itinerary a case; the last axis changes fastest.
    """

    scenario: Scenario
    axes: tuple[Axis, ...]
    together: bool
    batch: Batch

    @property
    def itineraries(self) -> Sequence[Itinerary]:
        """One a case."""
        return self.batch.itineraries

    @property
    def question(self) -> dict[str, Any]:
        """What must not change while the sweep waits, in the order in which it is looked at."""
        return {
            "scenario_sha256": self.scenario.sha256,
            "axes": [
                {"name": one.name, "unit": one.unit, "values": one.values.tolist()}
                for one in self.axes
            ],
            "together": self.together,
        }

    def where(self, case: int) -> str:
        """A case in words: ``tube.length = 50 mm, method.flow = 0.1 mL/min``."""
        return self.batch.where(case)


@dataclass(frozen=True, kw_only=True)
class Sweep(Handed):
    """All that a sweep says.

    Parameters
    ----------
    metrics : dict of str to array
        As of ``tailrace.studies.lanes.metrics_of``, the cases in the order of the plan. NaN where
        a case could not be computed: ``computed`` is False then and ``warnings`` says why.
    """

    plan: Plan
    metrics: Metrics
    engine: Engine = field(default_factory=Engine)
    """How the journeys were computed."""
    stored: Stored | None = None
    """All metrics, where those in memory are only some."""

    @property
    def solutes(self) -> tuple[str, ...]:
        """Names of the solutes."""
        return self.plan.itineraries[0].lanes

    @property
    def parts(self) -> tuple[Any, ...]:
        """The parts of the first case, injector first."""
        return tuple(part for part, _ in self.plan.itineraries[0].passages)

    @property
    def shape(self) -> tuple[int, ...]:
        """Of the grid of cases: one length for each axis, or the number of cases in step."""
        axes = self.plan.axes
        return (len(axes[0]),) if self.plan.together else tuple(len(one) for one in axes)

    @property
    def mapped(self) -> bool:
        """Whether two numbers are varied, each with each, and parts are kept: maps can be drawn."""
        numbers = all(one.unit for one in self.plan.axes)
        few = math.prod(self.shape) <= MANY
        return few and numbers and len(self.shape) == 2 and min(self.shape) > 1

    def case(self, case: int) -> Result:
        """What one case says, without its bands.

        Parameters
        ----------
        case : int
            Its place in the order of the plan.
        """
        return result_of(self.metrics, case, self.plan.itineraries[0])


def sweep(
    scenario: Scenario, vary: Sequence[str], together: bool = False, runner: Runner | None = None
) -> Sweep:
    """Vary fields of a scenario and travel every case.

    ``vary``: ``"tube.length = 50 mm .. 1 m, 40 points"``; see ``tailrace.studies.axes.axis``.
    ``together``: true: the fields change in step. False: every value of one meets every value of
    the others. ``runner``: one on the threads of this machine if it is left out. Raises StudyError,
    ScenarioError or BudgetError for a wrong axis or case, before anything is computed. Raises
    AccuracyError where no case at all can be computed.
    """
    return answer(plan(scenario, vary, together), runner)


def plan(scenario: Scenario, vary: Sequence[str], together: bool = False) -> Plan:
    """Check every case of a sweep; parameters as of ``sweep``."""
    axes = axes_of(scenario, vary, together)
    count = len(axes[0]) if together else int(np.prod([len(one) for one in axes]))
    itineraries: Sequence[Itinerary] | None = None
    if count > FEW:
        itineraries = _followed(scenario, axes, together, count)
    if itineraries is None and count > MOST_BUILT:
        raise BudgetError(
            f"expected at most {MOST_BUILT} cases of such fields, found {count}; use fewer points"
        )
    if itineraries is None:
        itineraries = tuple(one.itinerary() for one in cases_of(scenario, axes, together))
    batch = Batch(
        "cases",
        itineraries,
        lambda case: described(axes, choice(axes, together, case)),
        keep=None if count <= MANY else _kept,
        gather=None if count <= MANY else _gathered,
        more=each_and_next if len(itineraries[0].lanes) > 1 and count <= MANY else None,
    )
    return Plan(scenario=scenario, axes=axes, together=together, batch=batch)


def _followed(
    scenario: Scenario, axes: Sequence[Axis], together: bool, count: int
) -> Sequence[Itinerary] | None:
    """All cases, made from few; None where each has to be built.

    Checked as strictly as a file, and held against what is made, are all corners and some at
    random.
    """
    places = [one.target.place for one in axes]
    now = [value_at(scenario.document, place) if one.unit else None
           for one, place in zip(axes, places, strict=True)]  # fmt: skip
    if any(value is None or not np.isfinite(value) for value in now):
        return None
    columns = [one.values for one in axes]
    grid = columns if together else np.meshgrid(*columns, indexing="ij")
    values = np.stack([np.asarray(one, dtype=float).reshape(-1) for one in grid], axis=1)

    def build(row: FloatArray) -> Itinerary:
        document = with_numbers(scenario.document, places, row.tolist())
        return replace(scenario, document=document).itinerary()

    ends = [(0, len(one) - 1) for one in axes]
    corners = (
        [0, count - 1]
        if together
        else [
            int(np.ravel_multi_index(one, [len(axis) for axis in axes])) for one in product(*ends)
        ]
    )
    some = np.random.default_rng(count).integers(count, size=CHECKED).tolist()
    picked = sorted({*corners, *some})
    checked = [one.itinerary() for one in cases_of(scenario, axes, together, picked)]
    many = followed(build, np.array(now, dtype=float), values)
    if many is None:
        return None
    fine = all(alike(many[case], one) for case, one in zip(picked, checked, strict=True))
    return many if fine else None


def _kept(name: str) -> bool:
    """Whether a metric is kept where there are MANY cases."""
    group, _, own = name.partition("/")
    return group not in ("parts", "column_alone") and own != DROP


def _gathered(name: str) -> bool:
    """Whether a metric of MANY cases is held in memory, too, where it is stored."""
    group, _, own = name.partition("/")
    return not own or (group == "recorded" and own in LEADING)


def answer(plan: Plan, runner: Runner | None = None) -> Sweep:
    """Make a planned sweep; raises AccuracyError where no case at all can be computed."""
    runner = runner or Runner()
    metrics = runner.run(plan.batch)
    return Sweep(plan=plan, metrics=metrics, engine=runner.computed, stored=runner.stored)
