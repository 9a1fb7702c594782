"""The scenario after a fit: values, what is known of them now, and why."""

from typing import Any

from tailrace.quantities.kinds import kind_named
from tailrace.scenario.changed import with_values
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import target
from tailrace.scenario.toml import as_toml
from tailrace.studies.measured.result import Fitted, Parameter

DIGITS = 6


def fitted_text(scenario: Scenario, study: Fitted) -> str:
    """The text of a scenario file with the fitted values of the free fields.

    Each is in ``[[uncertain]]`` as knowledge, with its standard uncertainty and the files it
    is from, in place of what was there.
    """
    places = {one.field: target(scenario.tables, one.field).place for one in study.free}
    values = {places[one.field]: _written(one, one.value, True) for one in study.free}
    made = with_values(scenario.tables, values)
    rows = [
        row
        for row in made.get("uncertain", [])
        if target(scenario.tables, row["field"]).place not in values
    ]
    files = ", ".join(one.file for one in study.measured.values())
    made["uncertain"] = rows + [
        {
            "field": one.field,
            "distribution": "normal",
            "standard_deviation": _written(one, one.standard_uncertainty, False),
            "kind": "knowledge",
            "because": f"fitted to {files}"[:500],
        }
        for one in study.free
    ]
    if "correlated" in made:
        gone = {one.field for one in study.free}
        kept = [row for row in made["correlated"] if not gone & set(row["fields"])]
        made["correlated"] = kept
    return as_toml({key: value for key, value in made.items() if value != []})


def _written(one: Parameter, value: float, absolute: bool) -> Any:
    """A value, or a difference, as the file has it: in the trade's unit, with its digits."""
    if not one.kind:
        return float(f"{value:.{DIGITS}g}")
    kind = kind_named(one.kind)
    unit, size = kind.units[0]
    zero = kind.offset if absolute else 0.0
    if kind.offset and not absolute:
        unit = kind.unit
    return f"{(value - zero) / size:.{DIGITS}g} {unit}"
