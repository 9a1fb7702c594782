"""The scenario after a fit: values, what is known of them now, and why."""

from collections.abc import Sequence
from itertools import combinations
from typing import Any

from tailrace.quantities.kinds import kind_named
from tailrace.scenario.changed import with_values
from tailrace.scenario.problems import Tables
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import called, target
from tailrace.scenario.toml import as_toml
from tailrace.studies.measured.result import Fitted, Parameter

DIGITS = 6
STRONGEST = 0.995
"""Correlation that is written at most."""


def fitted_text(scenario: Scenario, study: Fitted) -> str:
    """The text of a scenario file with the fitted values of the free fields."""
    return as_toml(fitted_tables(scenario.tables, study, study.free))


def fitted_tables(tables: Tables, study: Fitted, written: Sequence[Parameter]) -> Tables:
    """Tables of a scenario with fitted values of some of the fields.

    Each is in ``[[uncertain]]`` as knowledge, with its standard uncertainty and the files it
    is from, in place of what was there, and several with their correlations.
    """
    names = [one.field for one in study.parameters]
    places = {one.field: called(tables, one.field).place for one in written}
    values = {places[one.field]: _written(one, one.value, True) for one in written}
    built = with_values(tables, values)
    rows = [
        row
        for row in built.get("uncertain", [])
        if target(tables, row["field"]).place not in values
    ]
    files = ", ".join(one.file for one in study.measured.values())
    built["uncertain"] = rows + [
        {
            "field": one.field,
            "distribution": "normal",
            "standard_deviation": _written(one, one.standard_uncertainty, False),
            "kind": "knowledge",
            "because": f"fitted to {files}"[:500],
        }
        for one in written
    ]
    remaining = [
        row
        for row in built.get("correlated", [])
        if not set(values) & {target(tables, field).place for field in row["fields"]}
    ]
    built["correlated"] = remaining + [
        {"fields": [one.field, other.field], "coefficient": round(coefficient, 4)}
        for one, other in combinations(written, 2)
        if abs(
            coefficient := max(
                -STRONGEST,
                min(
                    STRONGEST,
                    float(study.correlation[names.index(one.field), names.index(other.field)]),
                ),
            )
        )
        > 1e-3
    ]
    return {key: value for key, value in built.items() if value != []}


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
