"""What ``tailrace improve`` prints: the text, expected metrics as CSV, and one JSON object:

SI units; money in the file's own currency; None where a value does not exist.

- ``contract``, ``title``, ``scenario_sha256``, ``version``
- ``aim``: ``key``, ``of``, ``figure`` (name of the metric), ``unit``, ``remark``; ``constraints``;
  ``stop``; ``order``; ``searched``: empty where every combination was simulated; ``engine``:
  how the journeys were computed
- ``start``, ``ceiling``: the metric as it is, and that of the column alone
- ``changes``: for each ``name``, ``letter``, what it costs, its gain ``alone``, ``last`` and
  its ``share`` (Shapley value: its gain averaged over all orders) with their errors,
  ``theory_alone``, ``needs``, ``excludes``, ``caution``, ``forbidden``, ``in_best``,
  ``left_out``
- ``steps``: from the start on, ``figure`` being the metric after each; ``ties``;
  ``stop_after``; ``theory_order``
- ``columns``: of several, each with ``name``, what it ``could_give``, and by step ``figure``,
  ``numerical_error`` and the share that is ``kept``; the metric is then the mean of these
- ``best``, ``whole``: places in ``combinations``, which hold for each ``changes``, the metric
  (``figure``), its price, ``broken`` constraints and ``computed``
- ``frontiers``: places in ``combinations`` by ``cost``, ``effort``, ``pressure`` and
  ``signal_to_noise``
- ``disagreements``; ``worth_it``; ``verdict``
- ``expected``: None, or ``basis`` and ``rows``
"""

from __future__ import annotations

import csv
import io
from dataclasses import asdict
from typing import Any

from tailrace.quantities.described import descriptions
from tailrace.records.layout import as_json as plain
from tailrace.records.trade import for_people
from tailrace.report.columns import gains_json, gains_lines, gains_table
from tailrace.report.improvement.sentences import (
    about,
    basis,
    basis_line,
    broken,
    findings,
    forbidden,
    left_out,
    letters,
    metric_label,
    remark,
    searched,
    verdict,
)
from tailrace.report.improvement.tables import (
    changes_table,
    expected_table,
    frontier_tables,
    steps_table,
)
from tailrace.report.improvement.work import injected_lines
from tailrace.report.sentences import computed
from tailrace.report.table import Headline, Table, shown
from tailrace.scenario.assumptions import kept_by_changes
from tailrace.scenario.contents import Contents
from tailrace.studies.improving.result import Change, Improvement


def as_text(improvement: Improvement, title: str, expect: bool = False) -> str:
    """Everything that ``improve`` prints, as plain text of at most 110 columns.

    With ``expect`` what measurements should show after each step, too. Without a line end.
    """
    return shown(blocks(improvement, title, expect))


def blocks(improvement: Improvement, title: str, expect: bool = False) -> list[str | Table]:
    """The same, to be shown at any width."""
    improvement = for_people(improvement)
    return [
        Headline(title),
        "\n".join(about(improvement)),
        *_tables(improvement, expect),
        "\n".join(_sentences(improvement, expect)),
        Headline(verdict(improvement)),
    ]


def _tables(improvement: Improvement, expect: bool) -> list[Table]:
    first = [steps_table(improvement), *filter(None, [gains_table(improvement)])]
    tables = [*first, changes_table(improvement), *frontier_tables(improvement)]
    return [*tables, expected_table(improvement)] if expect else tables


def _sentences(improvement: Improvement, expect: bool) -> list[str]:
    lines = [
        *gains_lines(improvement),
        *findings(improvement),
        *injected_lines(improvement),
        *filter(None, [computed(improvement.engine)]),
        *(
            f"Caution: {line}; what that does has to be measured, or said by retention_change."
            for line in _kept(improvement)
        ),
    ]
    return [basis_line(improvement), *lines] if expect else lines


def _kept(improvement: Improvement) -> list[str]:
    stated: object = improvement.scenario
    return [*kept_by_changes(stated)] if isinstance(stated, Contents) else []


CONTRACT = 2
"""Raised by one when keys change their meaning."""
CSV_COLUMNS = ("step", "change", "of", "figure", "unit", "value", "low", "high", "error")
"""Of the CSV file."""


def as_json(improvement: Improvement, version: str) -> dict[str, Any]:
    """Turn an improvement into an object ready for ``json.dumps``; its keys stand above."""
    expected, spoken = improvement.expected, for_people(improvement)
    return {
        **_question(improvement, version),
        "start": improvement.start,
        "ceiling": plain(improvement.ceiling),
        "changes": [
            _change(improvement, change, letters(index)) | {"left_out": left_out(spoken, in_words)}
            for index, (change, in_words) in enumerate(
                zip(improvement.changes, spoken.changes, strict=True)
            )
        ],
        "steps": [
            {**_plain(step), "broken": broken(improvement, step.combination)}
            for step in improvement.steps
        ],
        "columns": gains_json(improvement),
        "ties": plain(improvement.ties),
        "stop_after": improvement.stop_after,
        "theory_order": list(improvement.theory_order),
        "best": improvement.best,
        "whole": improvement.whole,
        "combinations": _combinations(improvement),
        "frontiers": plain(improvement.frontiers),
        "disagreements": [
            {name: plain(one) for name, one in asdict(pair).items()}
            for pair in improvement.disagreements
        ],
        "worth_it": improvement.worth_it,
        "verdict": verdict(spoken),
        "expected": None
        if expected is None
        else {"basis": basis(improvement), "rows": expected_rows(improvement)},
    }


def _question(improvement: Improvement, version: str) -> dict[str, Any]:
    aim = improvement.aim
    return {
        "contract": CONTRACT,
        "title": improvement.scenario.title,
        "scenario_sha256": improvement.scenario.sha256,
        "version": version,
        "aim": {
            "key": aim.key,
            "of": aim.of,
            "figure": aim.label,
            "unit": aim.row.unit,
            "remark": remark(improvement),
        },
        "constraints": plain(improvement.constraints),
        "stop": improvement.stop,
        "order": improvement.order,
        "searched": searched(improvement),
        "engine": computed(improvement.engine),
    }


def _plain(value: object, *omitted: str) -> dict[str, Any]:
    """Plain values of the described fields; the aim's metric goes by ``figure``."""
    found = plain(value)
    return {
        "figure" if name == "value" else name: one
        for name, one in found.items()
        if name not in omitted
    }


def _change(improvement: Improvement, change: Change, letter: str) -> dict[str, Any]:
    return {
        **_plain(change, "heaters", "reason", "tried", "rivals", "tried_gain"),
        "letter": letter,
        "forbidden": forbidden(change),
    }


def _combinations(improvement: Improvement) -> list[dict[str, Any]]:
    table = improvement.combinations
    columns = {
        name: plain(getattr(table, name))
        for name, one in descriptions(table).items()
        if one.along == ("combination",) and name not in ("cell_limit", "satisfied", "warnings")
    }
    columns["figure"] = columns.pop("value")
    return [
        {
            "changes": list(improvement.names(row)),
            **{name: values[row] for name, values in columns.items()},
            "broken": broken(improvement, row),
        }
        for row in range(len(table.value))
    ]


def expected_rows(improvement: Improvement) -> list[dict[str, Any]]:
    """What measurements should show; SI, None where a bound does not exist."""
    rows = () if improvement.expected is None else improvement.expected.rows
    return [
        {
            "step": row.step,
            "change": improvement.steps[row.step].change,
            "of": row.of,
            "figure": metric_label(row.metric).replace(" ", "_"),
            "unit": row.unit,
            **{key: plain(getattr(row, key)) for key in ("value", "low", "high", "error")},
        }
        for row in rows
    ]


def expected_csv(improvement: Improvement) -> str:
    """The same as text of a CSV file with a head line; RFC 4180 but for its line ends."""
    sink = io.StringIO()
    writer = csv.DictWriter(sink, CSV_COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(
        {key: "" if value is None else _harmless(value) for key, value in row.items()}
        for row in expected_rows(improvement)
    )
    return sink.getvalue()


def _harmless(value: object) -> object:
    """A text that a spreadsheet would take for a formula, marked as text."""
    if isinstance(value, str) and value.startswith(("=", "+", "-", "@", "\t")):
        return "'" + value
    return value
