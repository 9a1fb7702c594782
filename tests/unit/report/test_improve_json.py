"""The JSON object of ``improve`` and the expected figures: always the same keys, plain numbers."""

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest
from reference.improvements import NAMES, combinations, expected, improvement

from tailrace.measures.registry import APEX, PLATES, TAILING
from tailrace.report.improvement.printed import as_json, expected_csv, expected_rows
from tailrace.report.improvement.sentences import basis
from tailrace.report.improvement.tables import expected_table, shown
from tailrace.studies.improving.result import Expectation

KEYS = {
    "contract",
    "engine",
    "title",
    "scenario_sha256",
    "version",
    "aim",
    "constraints",
    "stop",
    "order",
    "searched",
    "start",
    "ceiling",
    "changes",
    "columns",
    "steps",
    "ties",
    "stop_after",
    "theory_order",
    "best",
    "whole",
    "combinations",
    "frontiers",
    "disagreements",
    "worth_it",
    "verdict",
    "expected",
}


def test_it_is_json_with_the_keys_that_are_promised():
    answer = json.loads(json.dumps(as_json(improvement(), "1"), allow_nan=False))
    assert set(answer) == KEYS
    assert answer["expected"] is None
    assert answer["start"] == 10_000
    assert [one["name"] for one in answer["changes"]] == list(NAMES)
    assert answer["changes"][3]["alone"] is None
    assert answer["constraints"] == {
        "pressure": 400e5,
        "cell_pressure": None,
        "signal": None,
        "signal_to_noise": None,
        "budget": None,
        "effort": None,
    }


def test_places_lead_to_combinations():
    answer = as_json(improvement(), "1")
    assert answer["combinations"][answer["best"]]["changes"] == list(NAMES[:3])
    for step in answer["steps"]:
        whole = answer["combinations"][step["combination"]]
        assert sorted(whole["changes"]) == sorted(step["taken"])
        assert whole["figure"] == step["figure"]
        assert step["broken"] == whole["broken"] == []
    last = answer["frontiers"]["cost"][-1]
    assert answer["combinations"][last]["cost"] == 960


def test_what_does_not_exist_is_null():
    rows = combinations()
    result = improvement()
    ceiling = np.full(len(rows.value), np.nan)
    answer = as_json(replace(result, combinations=replace(rows, ceiling=ceiling)), "1")
    assert answer["ceiling"] is None
    assert answer["steps"][1]["gain_low"] is None


def test_expected_figures_as_rows_and_as_csv():
    result = improvement(expected=expected())
    rows = expected_rows(result)
    assert as_json(result, "1")["expected"] == {"basis": basis(result), "rows": rows}
    read = list(csv.DictReader(io.StringIO(expected_csv(result))))
    assert len(read) == len(rows) == 8
    for reported, row in zip(read, rows, strict=True):
        assert {key: type(row[key])(value) for key, value in reported.items()} == row
    assert (rows[2]["change"], rows[2]["step"]) == (NAMES[0], 1)


def test_a_name_is_no_formula_in_a_spreadsheet():
    # A cell that begins with one of = + - @ is taken for a formula (OWASP, CSV injection; from
    # memory).
    result = improvement(names=("=1+1", *NAMES[1:]), expected=expected())
    assert ",=1+1," not in expected_csv(result)
    assert ",'=1+1," in expected_csv(result)


def test_a_step_is_named_once_in_the_table():
    rows = expected_table(improvement(expected=expected())).rows
    assert [row[0] for row in rows[:4]] == ["0 as it is", "", "1 small flow cell", ""]


@pytest.mark.parametrize(
    ("metric", "unit", "numbers", "text"),
    [
        ("pressure", "Pa", (180e5, 150e5, 210e5), ("pressure", "180 bar", "150 to 210 bar")),
        ("pressure", "Pa", (9e4, 8e4, 1.2e5), ("pressure", "0.9 bar", "0.8 to 1.2 bar")),
        (
            APEX,
            "s",
            (61.234, 60.1, 62.4),
            ("retention time", "61.2 s", "60.1 to 62.4 s"),
        ),
        (PLATES, "1", (6216.7, 6216.1, 6217.3), ("plates, half height", "6217", "6216 to 6218")),
        (PLATES, "1", (11638, 11635, 11641), ("plates, half height", "11640", "11630 to 11650")),
        (PLATES, "1", (14286, 13572, 15000), ("plates, half height", "14290", "13570 to 15000")),
        (TAILING, "1", (1.2345, 1.23, 1.24), ("tailing at 5 %", "1.234", "1.230 to 1.240")),
    ],
)
def test_metrics_in_the_units_of_the_trade(metric, unit, numbers, text):
    value, low, high = numbers
    row = Expectation(step=0, of="", metric=metric, unit=unit, value=value, low=low, high=high)
    assert shown(row) == text
