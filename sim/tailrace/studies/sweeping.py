"""Making a sweep: its cases travel side by side, block after block."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from tailrace.display import Handed
from tailrace.journey import Result
from tailrace.journey.itinerary import Itinerary
from tailrace.scenario.scenario import Scenario
from tailrace.studies.axes import Axis, axes_of, cases_of, choices, described
from tailrace.studies.batch import Batch, Metrics
from tailrace.studies.engine import Engine
from tailrace.studies.lanes import result_of
from tailrace.studies.runner import Runner


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
    itineraries = tuple(one.itinerary() for one in cases_of(scenario, axes, together))
    places = choices(axes, together)
    batch = Batch("cases", itineraries, lambda case: described(axes, places[case]))
    return Plan(scenario=scenario, axes=axes, together=together, batch=batch)


def answer(plan: Plan, runner: Runner | None = None) -> Sweep:
    """Make a planned sweep; raises AccuracyError where no case at all can be computed."""
    runner = runner or Runner()
    return Sweep(plan=plan, metrics=runner.run(plan.batch), engine=runner.computed)
