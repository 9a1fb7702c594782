"""What an instrument leaves of each of several columns."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from tailrace.journey.result import OnColumn, Result
from tailrace.journey.travelling import travel
from tailrace.measures.registry import leading
from tailrace.scenario.build import itinerary
from tailrace.scenario.changed import on_columns
from tailrace.scenario.contents import Contents


def with_columns(
    scenario: Contents,
    result: Result,
    accuracy: float | None = None,
    solver: str | None = None,
) -> Result:
    """A result that says what is left of each of the scenario's ``[[columns]]``.

    Each is computed with the accuracy and by the solver given, or the scenario's own. Raises
    BudgetError or AccuracyError as ``travel``.
    """
    return replace(result, columns=tuple(_left(scenario, accuracy, solver)))


def _left(scenario: Contents, accuracy: float | None, solver: str | None) -> Iterator[OnColumn]:
    for name, one in on_columns(scenario).items():
        found = travel(itinerary(one).computed(accuracy=accuracy, solver=solver))
        metric = leading(found.recorded).name
        own = (found.column_alone or {}).get(metric, np.full(len(found.lanes), np.nan))
        yield OnColumn(
            name=name,
            metric=metric,
            could_give=own,
            recorded=found.recorded[metric],
            numerical_error=found.numerical_error[metric],
            kept=np.asarray(found.recorded[metric] / own),
            pressure=found.pressure.highest,
            warnings=found.warnings,
        )
