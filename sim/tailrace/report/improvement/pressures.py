"""Limits of pressure: of which liquid they are told, and at which flow they hold."""

import numpy as np

from tailrace.measures.registry import CAPACITY
from tailrace.quantities.kinds import show
from tailrace.scenario.contents import Contents
from tailrace.studies.improving.result import Improvement

PRESSURES = ("pressure", "cell_pressure")
"""Constraints that hold along the whole programme."""


def at_its_highest(improvement: Improvement, constraint: str = "pressure") -> str:
    """Of which liquid pressures are told; empty of other constraints, and without a gradient."""
    programme = CAPACITY in improvement.combinations.recorded
    told = programme and constraint in PRESSURES
    return ", with the most viscous liquid of the programme" if told else ""


def unchecked_line(improvement: Improvement) -> str:
    """That the pressure in the cell was not checked: nothing that is drawn lies behind it."""
    table = improvement.combinations
    if table.cell_pressure[0] != 0 or np.any(table.cell_pressure > 0):
        return ""
    limit = table.cell_limit[0]
    against = "" if np.isnan(limit) else f" against its limit of {show(limit, 'pressure', 3)}"
    return (
        "The pressure in the flow cell was not checked"
        f"{against}: no waste line is drawn behind it; add what lies there."
    )


def slower(improvement: Improvement) -> str:
    """At which flow the start keeps to the pressures that it breaks, as a clause."""
    over = [
        one.limit / one.value for one in improvement.violations(0) if one.constraint in PRESSURES
    ]
    if not over:
        return ""
    scenario: object = improvement.scenario
    flow = ""
    if isinstance(scenario, Contents) and improvement.combinations.by_column is None:
        flow = f", {show(min(over) * scenario.document.method.flow, 'flow rate', 2)}"
    return f"; as it is it keeps to that at {100 * min(over):.2g} % of its flow{flow}"
