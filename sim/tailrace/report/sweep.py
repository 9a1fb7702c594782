"""A sweep in words: the object of ``sweep --json``, and tables of its cases."""

from collections.abc import Callable
from typing import Any

import numpy as np

from tailrace.identity import own_version
from tailrace.measures.metric import Metric
from tailrace.measures.registry import METRICS
from tailrace.report.run import as_json as run_json
from tailrace.report.sentences import computed
from tailrace.report.table import Column, Headline, Table, numbers, tabulated, words
from tailrace.studies.axes import Axis, choice, choices, shown
from tailrace.studies.sweeping import LEADING, Sweep

MOST_ROWS = 40
"""Rows that are printed; of more, only the least and the greatest metrics."""


def as_json(made: Sweep) -> dict[str, Any]:
    """One object: the axes, and for each case its values and what ``run --json`` says of it."""
    plan, scenario = made.plan, made.plan.scenario
    cases = []
    for case, chosen in enumerate(choices(plan.axes, plan.together)):
        at = {one.name: one.values[i].item() for one, i in zip(plan.axes, chosen, strict=True)}
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
        "engine": computed(made.engine),
    }


def blocks(made: Sweep) -> list[str | Table]:
    """Title, cases and what warns, to be shown at any width."""
    plan, warnings = made.plan, made.metrics["warnings"]
    count, sign = len(plan.itineraries), " = " if plan.together else " x "
    asked = f"{count} cases: " + sign.join(f"{one.name} {len(one)}" for one in plan.axes)
    warned = [case for case in range(count) if warnings[case]]
    found: list[str | Table] = [Headline(plan.scenario.title), asked, cases_table(made)]
    if computed(made.engine):
        found.append(computed(made.engine))
    if warned:
        first = f"at {plan.where(warned[0])}: {warnings[warned[0]].splitlines()[0]}"
        found.append(f"{len(warned)} of {count} cases carry warnings; the first:\n{first}")
    return found


def cases_table(made: Sweep) -> Table:
    """A row for each case and solute; of many cases the extremes alone."""
    axes, count = made.plan.axes, len(made.plan.itineraries)

    def at(place: int, one: Axis) -> Callable[[Any], str]:
        return lambda row: shown(one, choice(axes, made.plan.together, row[0])[place])

    def of(name: str) -> Callable[[Any], Any]:
        return lambda row: made.metrics[f"recorded/{name}"][row[0], row[1]]

    def number(metric: Metric) -> Column:
        return numbers(metric.description, of(metric.name), digits=4)

    chosen = [words(one.name, at(place, one)) for place, one in enumerate(axes)]
    solute = words("solute", lambda row: made.solutes[row[1]])
    metrics = [METRICS[name] for name in LEADING if f"recorded/{name}" in made.metrics]
    if count * len(made.solutes) <= MOST_ROWS:
        columns = [number(one) for one in metrics]
        rows = [(case, lane) for case in range(count) for lane in range(len(made.solutes))]
        return tabulated("Cases", [*chosen, solute, *columns], rows)
    columns = [
        solute,
        words("metric", lambda row: row[2].label),
        words("", lambda row: row[3]),
        words(
            "value", lambda row: numbers(row[2].description, of(row[2].name), digits=4).text(row)
        ),
        words("", lambda row: row[2].description.shown or row[2].unit.replace("1", ""), "unit"),
        *chosen,
    ]
    extremes = [
        (int(find(values)), lane, one, word)
        for lane in range(len(made.solutes))
        for one in metrics
        for values in [made.metrics[f"recorded/{one.name}"][:, lane]]
        if not np.isnan(values).all()
        for word, find in (("least", np.nanargmin), ("greatest", np.nanargmax))
    ]
    return tabulated("The least and the greatest of all cases", columns, extremes)
