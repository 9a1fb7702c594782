"""The work sheet: what to do, in which order, and what to measure after each step."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tailrace.records.trade import for_people
from tailrace.report.improvement.pressures import at_its_highest, unchecked_line
from tailrace.report.improvement.sentences import (
    bars,
    basis_line,
    broken,
    gain_interval,
    gained,
    left_out_lines,
    money,
    order_line,
    ratio,
    share,
    spoken_time,
    stop_line,
    verdict,
)
from tailrace.report.improvement.tables import NO_BAND, shown
from tailrace.report.improvement.work import Work, injected_lines, works
from tailrace.report.paper import template, unbroken
from tailrace.studies.improving.result import Expectation, Improvement, Step

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tailrace.records.provenance import Provenance

ON_PAPER = 4
"""Columns whose boxes stand side by side on a sheet."""
Beside = tuple[str, list[tuple[str, str]]]


def as_sheet(improvement: Improvement, provenance: Provenance) -> str:
    """The work sheet of an improvement with ``expected``, as one HTML file that stands alone.

    The same input gives the same text. It holds no address, and its policy forbids whoever opens it
    to fetch anything.
    """
    improvement = for_people(improvement)
    work, measured = works(improvement), _measured(improvement)
    lines = (
        order_line(improvement),
        stop_line(improvement),
        *injected_lines(improvement),
        *left_out_lines(improvement),
        unchecked_line(improvement),
    )
    page = template("improvement/worksheet.html.j2").render(
        provenance=provenance,
        verdict=verdict(improvement),
        remarks=[line for line in lines if line],
        basis=basis_line(improvement),
        parts=[(number, part) for number, done in enumerate(work) for part in done.parts],
        steps=[
            _step(improvement, step, done, measured)
            for step, done in zip(improvement.steps, work, strict=True)
        ],
    )
    return unbroken(page)


def _measured(improvement: Improvement) -> set[str]:
    """What is measured at the bench: the solutes and pairs of the aim, and the pressure.

    All metrics of all solutes would be pages that nobody fills in.
    """
    rows = () if improvement.expected is None else improvement.expected.rows
    steps, by_column = improvement.steps, improvement.combinations.by_column
    wanted = {"": {step.of for step in steps}}
    if by_column is not None:
        of = by_column.of[[step.combination for step in steps]].T.tolist()
        wanted = {f", {name}": set(one) for name, one in zip(by_column.names, of, strict=True)}
    found = {""}
    for behind, aimed in wanted.items():
        names = {row.of.removesuffix(behind) for row in rows if row.of.endswith(behind)}
        pairs = [(one, other) for one in names for other in names]
        aimed |= {one for one, other in pairs if aimed & set(_pairs(one, other))}
        found |= {one + behind for one in aimed}
    return found


def _pairs(one: str, other: str) -> tuple[str, str]:
    return f"{one}/{other}", f"{other}/{one}"


def _step(
    improvement: Improvement, step: Step, work: Work, measured: set[str]
) -> dict[str, object]:
    """What one box of the sheet holds; ``facts`` and ``divider`` are empty where there is none."""
    told = () if improvement.expected is None else improvement.expected.rows
    rows = [row for row in told if row.step == step.number and row.of in measured]
    by_column = improvement.combinations.by_column
    of, beside, rows = ("", [], rows) if by_column is None else _side_by_side(rows, by_column.names)
    title = "Measure after this step" if step.number else "Measure before any change"
    checks = [
        (f"{row.of}: {name}" if row.of else name + at_its_highest(improvement), value, interval)
        for row in rows
        for name, value, interval in [shown(row)]
    ]
    cautions = [step.caution, *broken(improvement, step.combination)]
    return {
        "title": f"Step {step.number}: {step.change or 'as it is'}",
        "facts": _facts(improvement, step) if step.number else "",
        "tasks": work.tasks,
        "cautions": [f"{one.rstrip('.')}." for one in cautions if one],
        "checks": checks,
        "beside": beside,
        "checks_title": f"{title}: {of}" if of else title,
        "divider": _divider(improvement, step),
    }


def _side_by_side(
    rows: Sequence[Expectation], names: Sequence[str]
) -> tuple[str, list[tuple[Sequence[str], list[Beside]]], list[Expectation]]:
    """What is read if it is one thing, tables of what several columns give, and the rows of none.

    A row of a table is what to read, and of each column value and interval, both empty where there
    is nothing to read. Where no interval can be given, the sheet says so above the steps.
    """
    cells: dict[tuple[str, str], dict[str, tuple[str, str]]] = {}
    left = []
    for row in rows:
        column = max((one for one in names if row.of.endswith(f", {one}")), key=len, default="")
        if not column:
            left.append(row)
            continue
        name, value, interval = shown(row)
        told = cells.setdefault((row.of.removesuffix(f", {column}"), name), {})
        told[column] = value, "" if interval == NO_BAND else interval
    of = {one for one, _ in cells}
    one, nothing = of.pop() if len(of) == 1 else "", ("", "")
    parted = [names[k : k + ON_PAPER] for k in range(0, len(names), ON_PAPER)] if cells else []
    lines = [(what if one else f"{of}: {what}", told) for (of, what), told in cells.items()]
    tables = [
        (some, [(what, [told.get(name, nothing) for name in some]) for what, told in lines])
        for some in parted
    ]
    return one, tables, left


def _facts(improvement: Improvement, step: Step) -> str:
    """Price, gain and pressure in one line."""
    before = improvement.steps[step.number - 1].value
    uncertain = math.isfinite(step.gain_low)
    more = gained(step.gain, step.gain_error, digits=3 if uncertain else 0)
    gain = f"{improvement.aim.label} {more} ({share(step.gain / abs(before))} %)"
    if uncertain:
        gain += f", {gain_interval(step)} within the input uncertainty"
    facts = [f"cost {money(step.cost)}", f"work {spoken_time(step.effort)}", gain]
    if math.isfinite(step.pressure):
        facts.append(f"pressure {bars(step.pressure)} bar{at_its_highest(improvement)}")
    if math.isfinite(step.signal_to_noise):
        facts.append(f"signal to noise {ratio(step.signal_to_noise)} of the start's")
    return "; ".join(facts)


def _divider(improvement: Improvement, step: Step) -> str:
    """Above the first step that is not worth making."""
    if not step.number or step.number != improvement.stop_after + 1:
        return ""
    return (
        f"Stop here: each step from here on brings less than {100 * improvement.stop:g} %. "
        "Make it only where there is another reason for it."
    )
