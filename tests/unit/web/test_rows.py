"""Curves as a file of columns: no more lines than a spreadsheet takes."""

import csv
import io
import json
from pathlib import Path

import pytest
from reference import javascript

from tailrace.web import assemble

pytestmark = pytest.mark.skipif(bool(javascript.missing()), reason=javascript.missing())
ROWS = Path(assemble.__file__).parent / "shown" / "rows.js"
SHEET = 2**16
"""Lines of a sheet of the older binary format (from memory); newer ones take 2^20."""


@pytest.fixture(scope="module")
def text():
    racer = pytest.importorskip("py_mini_racer")
    context = racer.MiniRacer()
    context.eval(assemble.bundled(ROWS))

    def told(columns):
        given = json.dumps(json.dumps(columns))
        return json.loads(context.eval(f"JSON.stringify(rowsOfText(JSON.parse({given})))"))

    return told


def read(told):
    return list(csv.reader(io.StringIO(told["text"])))


def test_short_columns_are_whole(text):
    told = text([["time, s", [0, 0.1, 0.2]], ['"a"', [1, 1 / 3]]])
    assert read(told) == [["time, s", '"a"'], ["0", "1"], ["0.1", "0.33333333"], ["0.2", ""]]
    assert (told["count"], told["every"]) == (3, 1)


@pytest.mark.parametrize(
    ("points", "every"), [(SHEET - 1, 1), (SHEET, 2), (200_000, 4), (2 * (SHEET - 1), 2)]
)
def test_longer_ones_are_thinned_to_what_a_sheet_takes(text, points, every):
    told = text([["n", list(range(points))], ["short", [7, 8, 9]]])
    _, *rows = read(told)
    assert told["every"] == every
    assert told["count"] == len(rows) < SHEET
    assert [int(one[0]) for one in rows] == list(range(0, points, every))
    assert [one[1] for one in rows if one[1]] == [str(n) for n in (7, 8, 9)[::every]]
