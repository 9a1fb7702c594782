"""Signal, noise and resolution in tables, sentences and JSON."""

from dataclasses import replace

import numpy as np
import pytest

from tailrace.report.run import as_json as as_contract
from tailrace.report.run import as_text
from tailrace.report.sentences import critical_line
from tailrace.report.table import WIDTH
from tailrace.report.tables import separation_table, signal_table

NAMES = (
    *("concentration_in_cell", "concentration_recorded", "relative_signal", "relative_noise"),
    *("relative_signal_to_noise", "light_path", "amount", "absorptivity", "absorbance", "noise"),
    "signal_to_noise",
)
KNOWN = (3.8e7, 3.4e7, 0.5, 2.0, 0.25, 0.006, 2e-9, 1200.0, 0.0361, 4.32e-5, 1671.0)


@pytest.fixture
def result(make_result):
    """Two solutes; all of the first is known, of the second only what is relative."""
    given = dict(zip(NAMES, KNOWN, strict=True))
    missing = {"amount", "absorptivity", "absorbance", "signal_to_noise"}
    signal = {
        name: np.array([value, np.nan if name in missing else value])
        for name, value in given.items()
    }
    return replace(make_result(lanes=("a", "b")), signal=signal)


def test_the_table_says_the_price(result):
    table = signal_table(result)
    assert "light path 6.00 mm" in table.title
    rows = {row[0]: row[1:] for row in table.rows}
    # 3.8e7 per m^3 are 38 per mL; 0.0361 AU are 36.1 mAU, by hand. Errors of the fixture are 1e-4.
    assert rows["a"] == ("38.0", "50.000 ± 0.005", "2.00", "0.250", "36.1", "0.043", "1700")
    assert rows["b"] == ("38.0", "50.000 ± 0.005", "2.00", "0.250", "-", "0.043", "-")


def test_columns_of_absolutes_only_where_something_is_absolute(result):
    relative = {**result.signal, "absorbance": np.full(2, np.nan), "noise": np.full(2, np.nan)}
    table = signal_table(replace(result, signal=relative))
    assert {len(row) for row in (table.head, *table.rows)} == {3}


def test_the_table_of_neighbours(result):
    table = separation_table(result)
    assert [row[0] for row in table.rows] == ["a / b"]
    assert "±" in table.rows[0][2]


def test_the_sentence_names_the_critical_pair(result):
    recorded = {**result.recorded, "apex": np.array([10.0, 12.0]), "width_half": np.ones(2)}
    alone = {**result.column_alone, "apex": np.array([10, 12.0]), "width_half": np.full(2, 0.5)}
    near = replace(result, recorded=recorded, column_alone=alone)
    # 1.17741 x 2 over 2 and over 1, by hand.
    assert critical_line(near).startswith(
        "Critical pair: a and b, resolution 1.177 ± 0.009 recorded of 2.35 that the column could "
        "give"
    )


def test_peaks_that_have_run_into_one_are_called_so(result):
    apex = result.recorded["apex"][0]
    merged = {**result.recorded, "apex": np.array([apex, apex + 0.01])}
    assert critical_line(replace(result, recorded=merged)).endswith("run into one peak.")


def test_the_text_stays_narrow_and_says_all(result, make_result):
    text = as_text(result, "title")
    assert max(map(len, text.splitlines())) <= WIDTH
    for said in ("Signal and noise", "Neighbours", "Critical pair: a and b", "Pressure: "):
        assert said in text
    alone = as_text(make_result(), "title")
    assert "Neighbours" not in alone
    assert "Critical" not in alone


def test_a_long_name_keeps_the_table_narrow(result):
    wide = replace(result, lanes=("an unusually long name of a solute, " * 2, "b"))
    assert max(map(len, as_text(wide, "title").splitlines())) <= WIDTH


def test_json_has_signal_and_resolution(result):
    answer = as_contract(result, "t", "00", "0")
    assert answer["solutes"][0]["signal"]["signal_to_noise"] == 1671.0
    assert answer["solutes"][1]["signal"]["absorbance"] is None
    (pair,) = answer["resolution"]
    assert (pair["first"], pair["second"], pair["critical"]) == ("a", "b", True)
    assert set(pair) == {
        *("first", "second", "half_height", "numerical_error", "column_alone"),
        *("valley_to_peak", "from_valley", "valley_error", "from_valley_error", "critical"),
        *("half_height_printed", "relative_retention", "peak_to_valley"),
        *("selectivity", "selectivity_error"),
    }
