"""A sweep in words: the object of ``sweep --json``, and tables of its cases."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from tailrace.measures.registry import METRICS, PLATES, PLATES_OWN, TAILING, VARIANCE, WIDTH
from tailrace.records.provenance import own_version
from tailrace.report.numbers import significant
from tailrace.report.run import as_json as run_json
from tailrace.studies.axes import choices, shown
from tailrace.studies.sweeping import Sweep

MOST_ROWS = 40
"""So many rows are printed; of more, only the least and the greatest metrics."""
COLUMNS = {
    row.label if row.unit == "1" else f"{row.label}, {row.unit}": row.name
    for row in (METRICS[name] for name in (PLATES, PLATES_OWN, TAILING, VARIANCE, WIDTH))
}
"""The metrics that are printed, by the heads of their columns."""


def _columns(made: Sweep) -> dict[str, str]:
    """Those that this sweep has: without a column nothing is told at its retention."""
    return {title: name for title, name in COLUMNS.items() if f"recorded/{name}" in made.metrics}


def as_json(made: Sweep) -> dict[str, Any]:
    """One object: the axes, and for each case its values and what ``run --json`` says of it."""
    plan, scenario = made.plan, made.plan.scenario
    cases = []
    for case, choice in enumerate(choices(plan.axes, plan.together)):
        at = {one.name: one.values[i].item() for one, i in zip(plan.axes, choice, strict=True)}
        said = run_json(made.case(case), "", "", "")
        told = {key: said[key] for key in ("solutes", "pressure", "warnings")}
        cases.append({"at": at, "computed": bool(made.metrics["computed"][case]), **told})
    return {
        "contract": 2,
        "title": scenario.title,
        "scenario_sha256": scenario.sha256,
        "version": own_version(),
        "together": plan.together,
        "axes": [
            {"name": one.name, "unit": one.unit, "values": one.values.tolist()} for one in plan.axes
        ],
        "cases": cases,
    }


def as_text(made: Sweep) -> str:
    """Tables of all cases, or of their extremes where there are many."""
    return "\n".join(_lines(made))


def rows_of(made: Sweep) -> list[list[str]]:
    """A head, and a row for each case and solute; of many cases the extremes alone."""
    few = len(made.plan.itineraries) * len(made.solutes) <= MOST_ROWS
    return list(_case_rows(made) if few else _extreme_rows(made))


def _lines(made: Sweep) -> Iterator[str]:
    yield made.plan.scenario.title
    count = len(made.plan.itineraries)
    sign = " = " if made.plan.together else " x "
    yield f"{count} cases: " + sign.join(f"{one.name} {len(one)}" for one in made.plan.axes)
    yield from _table(rows_of(made))
    warned = [case for case in range(count) if made.metrics["warnings"][case]]
    if warned:
        first = made.metrics["warnings"][warned[0]].splitlines()[0]
        yield ""
        yield f"{len(warned)} of {count} cases carry warnings; the first:"
        yield f"at {made.plan.where(warned[0])}: {first}"


def _case_rows(made: Sweep) -> Iterator[list[str]]:
    axes = made.plan.axes
    yield [*(one.name for one in axes), "solute", *_columns(made)]
    for case, choice in enumerate(choices(axes, made.plan.together)):
        for lane, solute in enumerate(made.solutes):
            metrics = (
                made.metrics[f"recorded/{name}"][case, lane] for name in _columns(made).values()
            )
            at = [shown(one, index) for one, index in zip(axes, choice, strict=True)]
            yield [*at, solute, *(significant(value, 4) for value in metrics)]


def _extreme_rows(made: Sweep) -> Iterator[list[str]]:
    axes = made.plan.axes
    cases = choices(axes, made.plan.together)
    yield ["solute", "metric", "", "value", *(f"at {one.name}" for one in axes)]
    for lane, solute in enumerate(made.solutes):
        for title, name in _columns(made).items():
            values = made.metrics[f"recorded/{name}"][:, lane]
            if np.isnan(values).all():
                continue
            for word, find in (("least", np.nanargmin), ("greatest", np.nanargmax)):
                case = int(find(values))
                at = (shown(one, index) for one, index in zip(axes, cases[case], strict=True))
                yield [solute, title, word, significant(values[case], 4), *at]


def _table(rows: list[list[str]]) -> Iterator[str]:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    yield ""
    for row in rows:
        padded = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield "  ".join(padded).rstrip()
