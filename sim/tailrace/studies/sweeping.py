"""Making a sweep: its cases travel side by side, block after block."""

from dataclasses import dataclass

import numpy as np

from tailrace.journey import Result
from tailrace.studies.axis import Axis
from tailrace.studies.cases import axes_of, cases_of, choices, described
from tailrace.studies.journeys import Journeys, figures_of_all
from tailrace.studies.lanes import result_of


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A sweep that has not been made yet. Made by ``planned``.

    Parameters
    ----------
    scenario : Scenario
    axes : tuple of Axis
    together : bool
    journeys : Journeys
        One itinerary a case; the last axis changes fastest.
    """

    scenario: object
    axes: tuple[Axis, ...]
    together: bool
    journeys: Journeys

    @property
    def itineraries(self) -> tuple:
        """One a case."""
        return self.journeys.itineraries

    @property
    def question(self) -> dict:
        """What must not change while the sweep waits, in the order in which it is looked at."""
        return {
            "scenario_sha256": self.scenario.sha256,
            "axes": [
                {"name": one.name, "unit": one.unit, "values": one.values.tolist()}
                for one in self.axes
            ],
            "together": self.together,
            "fingerprint": self.journeys.fingerprint,
        }

    def where(self, case) -> str:
        """A case in words: ``tube.length = 50 mm, method.flow = 0.1 mL/min``."""
        return described(self.axes, choices(self.axes, self.together)[case])


@dataclass(frozen=True, kw_only=True)
class Sweep:
    """All that a sweep says.

    Parameters
    ----------
    plan : Plan
    figures : dict of str to array
        As of ``tailrace.studies.lanes.figures_of``, the cases in the order of the plan. NaN where
        a case could not be computed: ``computed`` is False then and ``warnings`` says why.
    """

    plan: Plan
    figures: dict[str, np.ndarray]

    @property
    def solutes(self) -> tuple[str, ...]:
        """Names of the solutes."""
        return self.plan.itineraries[0].lanes

    @property
    def parts(self) -> tuple:
        """The parts of the first case, injector first."""
        return tuple(part for part, _ in self.plan.itineraries[0].passages)

    @property
    def shape(self) -> tuple[int, ...]:
        """Of the grid of cases: one length for each axis, or the number of cases in step."""
        axes = self.plan.axes
        return (len(axes[0]),) if self.plan.together else tuple(len(one) for one in axes)

    def case(self, case) -> Result:
        """What one case says, without its bands.

        Parameters
        ----------
        case : int
            Its place in the order of the plan.
        """
        return result_of(self.figures, case, self.plan.itineraries[0])


def sweep(scenario, vary, together=False, progress=None) -> Sweep:
    """Vary fields of a scenario and travel every case.

    Parameters
    ----------
    scenario : Scenario
    vary : sequence of str
        ``"tube.length = 50 mm .. 1 m, 40 points"``; see ``tailrace.studies.axis.axis``.
    together : bool
        True: the fields change in step. False: every value of one meets every value of the others.
    progress : callable, optional
        Called as ``progress(done, total)`` with numbers of cases.

    Returns
    -------
    Sweep

    Raises
    ------
    StudyError, ScenarioError, BudgetError
        For a wrong axis or case, before anything is computed.
    AccuracyError
        Where no case at all can be computed.
    """
    return carried_out(planned(scenario, vary, together), progress=progress)


def planned(scenario, vary, together=False) -> Plan:
    """Check every case of a sweep; parameters as of ``sweep``."""
    axes = axes_of(scenario, vary, together)
    journeys = Journeys(tuple(one.itinerary() for one in cases_of(scenario, axes, together)))
    return Plan(scenario=scenario, axes=axes, together=together, journeys=journeys)


def carried_out(plan, kept=None, progress=None) -> Sweep:
    """Make a planned sweep.

    Parameters
    ----------
    plan : Plan
    kept, progress : optional
        See ``tailrace.studies.journeys.figures_of_all``.

    Returns
    -------
    Sweep

    Raises
    ------
    AccuracyError
        Where no case at all can be computed.
    """
    return Sweep(plan=plan, figures=figures_of_all(plan.journeys, plan.where, kept, progress))
