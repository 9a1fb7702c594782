"""What ``improve`` says in text: every step and change, no more digits than the error allows."""

import io
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from reference.improvements import FORBIDDEN, NAMES, change, combinations, expected, improvement

from tailrace.report.improvement.expected import basis_line
from tailrace.report.improvement.figures import (
    gained,
    letters,
    minutes,
    money,
    share,
    spoken_time,
)
from tailrace.report.improvement.findings import doubt_line, findings, stop_line, theory_lines
from tailrace.report.improvement.tables import (
    MOST_ROWS,
    changes_table,
    decimated,
    frontier_table,
    steps_table,
)
from tailrace.report.improvement.text import as_text, for_terminal
from tailrace.report.text import WIDTH
from tailrace.studies.improving.result import Disagreement

NAN = float("nan")


def test_every_step_is_a_row_with_its_price():
    table = steps_table(improvement())
    # 2 000 000 over 200, 140, 110, 100; see reference/improvements.py.
    assert [row[1] for row in table.rows[:4]] == [
        "10000 ± 2",
        "14286 ± 2",
        "18182 ± 2",
        "20000 ± 2",
    ]
    assert [row[2] for row in table.rows] == ["", "+4286", "+3896", "+1818", "+10000"]
    assert [row[3] for row in table.rows[:4]] == ["0.00", "42.9", "81.8", "100"]
    assert table.rows[1][4:6] == ("900", "30")
    assert table.rows[-1][4:6] == ("960", "55")
    assert table.last_is_sum


def test_a_start_without_steps_has_no_sum():
    alone = improvement()
    table = steps_table(replace(alone, steps=alone.steps[:1], best=0, stop_after=0))
    assert len(table.rows) == 1
    assert not table.last_is_sum


def test_pressure_in_the_cell_is_shown_where_there_is_any():
    made = improvement()
    steps = tuple(replace(one, cell_pressure=12e5) for one in made.steps)
    table = steps_table(replace(made, steps=steps))
    assert ("in cell", "bar") in table.head
    assert table.rows[0][7] == "12.0"
    assert ("in cell", "bar") not in steps_table(made).head


def test_a_forbidden_change_has_no_gain():
    rows = changes_table(improvement()).rows
    assert rows[3][:3] == ("d connect without the heater", "not allowed", "-")
    assert rows[0][:6] == ("a small flow cell", "+4286", "+3000", "+7143", "+6000", "60.0")


def test_shares_in_per_cent_of_nothing_are_not_told():
    made = improvement()
    rows = changes_table(replace(made, whole=0)).rows
    assert [row[5] for row in rows] == ["-"] * 4


def test_a_frontier_names_combinations_by_letters():
    rows = frontier_table(improvement(), "cost").rows
    assert [row[:2] for row in rows] == [
        ("none", "0"),
        ("c", "0"),
        ("b c", "60"),
        ("a b c", "960"),
    ]


def test_a_frontier_says_how_many_of_its_rows_are_shown():
    made = improvement()
    many = replace(made, frontiers={**made.frontiers, "cost": np.zeros(MOST_ROWS + 3, int)})
    assert frontier_table(many, "cost").title.endswith(f"; {MOST_ROWS} of {MOST_ROWS + 3} rows")
    assert "rows" not in frontier_table(made, "cost").title


def test_the_heads_of_the_signal_leave_room_for_names():
    made = improvement()
    aim = replace(made.aim, key="signal", figure="signal-to-noise ratio over the start's")
    assert steps_table(replace(made, aim=aim)).head[1][0] == "signal / noise"


def test_no_share_is_minus_nothing():
    assert [share(one) for one in (-0.0, 0.0, -1e-6, -0.1)] == ["0.00", "0.00", "0.00", "-10.0"]


def test_a_band_without_stated_uncertainty_is_not_to_be_taken_for_one():
    made = improvement(expected=expected())
    assert "Measured figures will lie outside it" in basis_line(made)
    text = made.scenario.text + '[[uncertain]]\nfield = "column.plates"\n'
    stated = basis_line(replace(made, scenario=SimpleNamespace(text=text)))
    assert "What is not called uncertain counts as exact" in stated


def test_a_long_frontier_is_thinned_with_both_ends():
    rows = np.arange(100)
    assert len(decimated(rows)) == MOST_ROWS
    assert decimated(rows)[[0, -1]].tolist() == [0, 99]
    assert decimated(rows[:5]).tolist() == [0, 1, 2, 3, 4]


@pytest.mark.parametrize(("index", "text"), [(0, "a"), (25, "z"), (26, "aa"), (53, "bb")])
def test_letters(index, text):
    assert letters(index) == text


@pytest.mark.parametrize(
    ("value", "error", "text"),
    [
        (1536.24, 0.4, "+1536.2"),
        (1536.24, 30.0, "+1540"),
        (-12.3, 1.0, "-12.3"),
        (0.3, 0.5, "0"),
        (-0.3, 0.5, "0"),
        (NAN, 1.0, "-"),
        (0.0123, 0.0002, "+0.0123"),
    ],
)
def test_a_gain_has_the_digits_that_its_error_allows(value, error, text):
    assert gained(value, error) == text


def test_prices():
    assert (money(12.5), money(900.0), money(NAN)) == ("12.50", "900", "-")
    assert (minutes(1800.0), minutes(NAN)) == ("30", "-")
    assert (spoken_time(7500), spoken_time(3600), spoken_time(0)) == (
        "2 h 5 min",
        "1 h",
        "no time",
    )


def test_where_to_stop_is_said():
    made = improvement()
    assert stop_line(made).startswith("Make all steps")
    early = stop_line(replace(made, stop_after=1, stop=0.3))
    assert early == (
        "Stop after step 1: the next, narrow tubes, brings 27.3 % of what there is before it, "
        "not 30 %, nor does any later one."
    )
    assert stop_line(replace(made, stop_after=0, stop=0.5)).startswith("Make no step: the first")
    assert stop_line(replace(made, steps=made.steps[:1], stop_after=0)) == ""


def test_gains_are_told_with_their_uncertainty():
    made = improvement()
    assert doubt_line(made) == ""
    steps = (made.steps[0], replace(made.steps[1], gain_low=4000.0, gain_high=4600.0))
    assert doubt_line(replace(made, steps=steps)) == (
        "With 95 % of the stated uncertainty the gains are: step 1 4000 to 4600."
    )


def test_ties_are_not_ranked():
    said = findings(improvement(ties=((2, 3),)))[0]
    assert "in either order, since the difference is too small to tell: steps 2 and 3" in said


def test_what_is_left_out_is_said_with_its_reason():
    dear = replace(change(1, NAMES, (1, 1, 1, 1)), in_best=False, left_out="it costs 60, too much")
    made = improvement()
    changes = (made.changes[0], dear, *made.changes[2:])
    said = findings(replace(made, changes=changes))
    assert "Not taken: narrow tubes: it costs 60, too much." in said
    assert f"Not allowed: connect without the heater: {FORBIDDEN}." in said


def test_without_the_constraints_more_is_possible():
    rows = combinations()
    broken = (*rows.broken[:7], ("too dear",))
    said = findings(improvement(best=6, combinations=replace(rows, broken=broken)))
    assert any("without the constraints small flow cell, narrow tubes and" in one for one in said)
    # Another combination as good as the best is no matter of constraints.
    said = findings(improvement(best=6))
    assert not any("without the constraints" in one for one in said)


def test_the_clearest_of_many_disagreements_are_told():
    pairs = [
        Disagreement(better=f"b{k}", worse=f"w{k}", simulated=(10, 9 - k), theory=(1, 10))
        for k in range(4)
    ]
    said = theory_lines(improvement(disagreements=tuple(pairs)))
    assert "b3 brings 10.0 and w3 6.00" in said[0]
    assert "b2 brings" in said[1]
    assert said[2] == "They disagree on 4 pairs of changes; these are the clearest."


def test_nothing_is_better():
    assert any(
        "nothing is better than the instrument as it is" in one
        for one in findings(improvement(best=0))
    )


def test_a_broken_constraint_on_the_way_is_said():
    made = improvement()
    steps = (made.steps[0], replace(made.steps[1], broken=("the pressure is 410 bar",)))
    said = findings(replace(made, steps=steps, stop_after=1))
    assert "After step 1: the pressure is 410 bar." in said


def test_the_sum_of_variances_is_told_where_it_disagrees():
    said = theory_lines(improvement())
    assert "alone, small flow cell brings 4290 and narrow tubes 1760" in said[0]
    assert "says 3000 and 3500" in said[0]
    assert said[1] == "By the sum of variances the steps would be made so: 2 1 3."
    order = tuple(NAMES[:3])
    agreed = theory_lines(improvement(disagreements=(), theory_order=order))
    assert agreed == ["The sum of variances would make the same steps in the same order."]


def test_the_text_is_narrow_and_ends_with_the_verdict():
    made = improvement(expected=expected(), searched="Not all were travelled.")
    text = as_text(made, "A title", expect=True)
    assert max(map(len, text.splitlines())) <= WIDTH
    assert text.splitlines()[-1] == made.verdict
    assert "What a measurement should show" in text
    assert "13570 to 15000" in text
    assert "Not all were travelled." in text
    assert "The band of the expected figures is made up." in text
    assert "should show" not in as_text(made, "A title")


def test_the_terminal_shows_the_same():
    from rich.console import Console

    console = Console(width=140, record=True, file=io.StringIO())
    for block in for_terminal(improvement(), "A title"):
        console.print(block)
    text = console.export_text()
    for name in NAMES:
        assert name in text


def test_a_figure_that_does_not_exist_is_a_dash():
    made = improvement()
    rows = combinations()
    ceiling = np.full(len(rows.figure), NAN)
    made = replace(made, combinations=replace(rows, ceiling=ceiling))
    assert frontier_table(made, "cost").rows[1][4] == "-"
