"""A sweep in words: the object of ``sweep --json``, and tables of its cases."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from tailrace.identity import own_version
from tailrace.measures.metric import Metric
from tailrace.measures.registry import METRICS, PEAK_TO_VALLEY, RESOLUTION
from tailrace.quantities.arrays import FloatArray
from tailrace.records.provenance import Provenance
from tailrace.records.separation import separation
from tailrace.records.trade import in_words, people
from tailrace.report.paper import rendered
from tailrace.report.run import as_json as run_json
from tailrace.report.run import neighbours
from tailrace.report.sentences import computed
from tailrace.report.table import Column, Headline, Table, numbers, tabulated, words
from tailrace.report.tables import deep
from tailrace.studies.axes import Axis, choice, choices, shown
from tailrace.studies.neighbours import NEXT, valleys_in_order
from tailrace.studies.sweeping import LEADING, Sweep

MOST_ROWS = 40
"""Rows that are printed; of more, only the least and the greatest metrics."""
TOLD = (RESOLUTION, PEAK_TO_VALLEY)


def as_json(sweep: Sweep) -> dict[str, Any]:
    """One object: the axes, and for each case its values and what ``run --json`` says of it."""
    plan, scenario = sweep.plan, sweep.plan.scenario
    cases = []
    for case, chosen in enumerate(choices(plan.axes, plan.together)):
        at = {one.name: one.values[i].item() for one, i in zip(plan.axes, chosen, strict=True)}
        result = sweep.case(case)
        whole = run_json(result, "", "", "")
        picked = {key: whole[key] for key in ("solutes", "pressure", "warnings")}
        pairs = neighbours(separation(result, valleys_in_order(sweep.metrics, case)))
        found = bool(sweep.metrics["computed"][case])
        cases.append({"at": at, "computed": found, **picked, "resolution": pairs})
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
        "engine": computed(sweep.engine),
    }


def page(sweep: Sweep, provenance: Provenance) -> str:
    """Its tables on the paper of every report."""
    return rendered("sweep.html.j2", (), provenance=provenance, tables=cases_tables(sweep))


def blocks(sweep: Sweep) -> list[str | Table]:
    """Title, cases and what warns, to be shown at any width."""
    plan, warnings = sweep.plan, sweep.metrics["warnings"]
    count, sign = len(plan.itineraries), " = " if plan.together else " x "
    asked = f"{count} cases: " + sign.join(
        f"{in_words(one.name)} ({len(one)})" for one in plan.axes
    )
    warned = [case for case in range(count) if warnings[case]]
    found: list[str | Table] = [Headline(plan.scenario.title), asked, *cases_tables(sweep)]
    if computed(sweep.engine):
        found.append(computed(sweep.engine))
    if warned:
        first = f"at {plan.where(warned[0])}: {warnings[warned[0]].splitlines()[0]}"
        found.append(f"{len(warned)} of {count} cases carry warnings; the first:\n{first}")
    return found


def _number(metric: Metric, read: FloatArray) -> Column:
    """A metric of (cases, solutes), a row being its places; a valley as far as it is told."""
    column = numbers(metric.description, lambda row: read[row[0], row[1]], digits=4)
    if metric.name == PEAK_TO_VALLEY:
        return replace(column, text=lambda row: deep(float(read[row[0], row[1]]), 4))
    return column


def cases_tables(sweep: Sweep) -> list[Table]:
    """Of each solute, and where there are several of each and the next to elute."""
    picked = f"{NEXT}/{PEAK_TO_VALLEY}" in sweep.metrics
    return [
        cases_table(sweep, neighbours) for neighbours in ((False, True) if picked else (False,))
    ]


def cases_table(sweep: Sweep, neighbours: bool = False) -> Table:
    """A row for each case and solute; of many cases the extremes alone.

    ``neighbours``: metrics of each solute and the next to elute, in place of those of each.
    """
    axes, count = sweep.plan.axes, len(sweep.plan.itineraries)
    group, names = (NEXT, TOLD) if neighbours else ("recorded", LEADING)
    found = {name: sweep.metrics.get(f"{group}/{name}") for name in names}
    values = {name: one for name, one in found.items() if one is not None}

    def at(place: int, one: Axis) -> Callable[[Any], str]:
        return lambda row: shown(one, choice(axes, sweep.plan.together, row[0])[place])

    def number(metric: Metric) -> Column:
        return _number(metric, values[metric.name])

    chosen = [words(in_words(one.name), at(place, one)) for place, one in enumerate(axes)]
    under = "and the next" if neighbours else ""
    solute = words("solute", lambda row: sweep.solutes[row[1]], under)
    metrics = [METRICS[name] for name in values]
    if count * len(sweep.solutes) <= MOST_ROWS:
        columns = [number(one) for one in metrics]
        rows = [
            (case, lane)
            for case in range(count)
            for lane in range(len(sweep.solutes))
            if not neighbours or any(np.isfinite(one[case, lane]) for one in values.values())
        ]
        return tabulated("Neighbours" if neighbours else "Cases", [*chosen, solute, *columns], rows)
    columns = [
        solute,
        words("metric", lambda row: row[2].label),
        words("", lambda row: row[3]),
        words("value", lambda row: number(row[2]).text(row)),
        words("", lambda row: people(row[2].unit, row[2].description.shown).unit, "unit"),
        *chosen,
    ]
    extremes = [
        (int(find(of_lane)), lane, one, word)
        for lane in range(len(sweep.solutes))
        for one in metrics
        for of_lane in [values[one.name][:, lane]]
        if not np.isnan(of_lane).all()
        for word, find in (("least", np.nanargmin), ("greatest", np.nanargmax))
    ]
    title = "The least and the greatest of all cases" + (", of neighbours" if neighbours else "")
    return tabulated(title, columns, extremes)
