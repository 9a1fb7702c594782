"""What ``improve`` says in text: every step and change, no more digits than the error allows."""

from dataclasses import replace

import numpy as np
import pytest
from reference.improvements import NAMES, change, combinations, expected, improvement

from tailrace.report.improvement import printed
from tailrace.report.improvement.printed import as_text, blocks
from tailrace.report.improvement.sentences import (
    basis_line,
    broken_lines,
    doubt_line,
    findings,
    gained,
    left_out,
    letters,
    minutes,
    money,
    share,
    spoken_time,
    stop_line,
    theory_lines,
    verdict,
)
from tailrace.report.improvement.tables import (
    MOST_ROWS,
    changes_table,
    decimated,
    frontier_table,
    steps_table,
)
from tailrace.report.table import WIDTH, shown
from tailrace.studies.improving.aims import Constraints
from tailrace.studies.improving.result import Expectation, Expected

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


def test_what_a_change_of_the_method_leaves_out_is_said(monkeypatch):
    assert "Caution" not in as_text(improvement(), "one")
    monkeypatch.setattr(printed, "_kept", lambda improvement: ["warmer: kept"])
    assert "Caution: warmer: kept; what that does has to be measured" in as_text(
        improvement(), "one"
    )


def test_a_start_without_steps_has_no_sum():
    alone = improvement()
    table = steps_table(replace(alone, steps=alone.steps[:1], best=0, stop_after=0))
    assert len(table.rows) == 1
    assert not table.last_is_sum


def test_pressure_in_the_cell_is_shown_where_there_is_any():
    result = improvement()
    steps = tuple(replace(one, cell_pressure=12e5) for one in result.steps)
    table = steps_table(replace(result, steps=steps))
    assert ("in cell", "bar") in table.head
    assert table.rows[0][7] == "12.0"
    assert ("in cell", "bar") not in steps_table(result).head


def test_a_forbidden_change_has_no_gain():
    rows = changes_table(improvement()).rows
    assert rows[3][:3] == ("d connect without the heater", "not allowed", "-")
    assert rows[0][:6] == ("a small flow cell", "+4286", "+3000", "+7143", "+6000", "60.0")


def test_shares_in_per_cent_of_nothing_are_not_told():
    result = improvement()
    rows = changes_table(replace(result, whole=0)).rows
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
    result = improvement()
    many = replace(result, frontiers={**result.frontiers, "cost": np.zeros(MOST_ROWS + 3, int)})
    assert frontier_table(many, "cost").title.endswith(f"; {MOST_ROWS} of {MOST_ROWS + 3} rows")
    assert "rows" not in frontier_table(result, "cost").title


def test_the_heads_of_the_signal_leave_room_for_names():
    result = improvement()
    aim = replace(result.aim, key="signal", metric="signal_to_noise", relative=True)
    assert steps_table(replace(result, aim=aim)).head[1][0] == "signal / noise"


def test_no_share_is_minus_nothing():
    assert [share(one) for one in (-0.0, 0.0, -1e-6, -0.1)] == ["0.00", "0.00", "0.00", "-10.0"]


def test_an_interval_without_stated_uncertainty_is_not_to_be_taken_for_one():
    result = improvement(expected=expected())
    assert "No acceptance band can be given" in basis_line(result)
    stated = basis_line(replace(result, expected=replace(result.expected, samples=64)))
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
        "none",
    )


def test_where_to_stop_is_said():
    result = improvement()
    assert stop_line(result).startswith("Make all steps")
    early = stop_line(replace(result, stop_after=1, stop=0.3))
    assert early == (
        "Stop after step 1: the next, narrow tubes, brings 27.3 % of what there is before it, "
        "not 30 %, nor does any later one."
    )
    assert stop_line(replace(result, stop_after=0, stop=0.5)).startswith("Make no step: the first")
    assert stop_line(replace(result, steps=result.steps[:1], stop_after=0)) == ""


def test_gains_are_told_with_their_uncertainty():
    result = improvement()
    assert doubt_line(result) == ""
    steps = (result.steps[0], replace(result.steps[1], gain_low=4000.0, gain_high=4600.0))
    assert doubt_line(replace(result, steps=steps)) == (
        "Within the stated uncertainty (95 %) the gains are step 1: 4000 to 4600."
    )


def test_ties_are_not_ranked():
    text = findings(improvement(swappable=(2,)))[0]
    assert "in either order, since the difference is too small to tell: steps 2 and 3" in text


def test_what_is_left_out_is_said_with_its_reason():
    dear = replace(change(1, NAMES, (1, 1, 1, 1)), in_best=False, reason="breaks alone", tried=2)
    result = improvement(constraints=Constraints(budget=50.0))
    changes = (result.changes[0], dear, *result.changes[2:])
    text = findings(replace(result, changes=changes))
    assert "Not taken: narrow tubes: cost 60, 10 above 50." in text
    assert any(
        one.startswith("Not allowed: connect without the heater: the method needs temperature")
        for one in text
    )


@pytest.mark.parametrize(
    ("reason", "phrase"),
    [
        ("not computed", "not computed: too much work"),
        ("undefined", "has no such metric"),
        ("breaks alone", "cost 60, 10 above 50"),
        ("breaks beside", "beside the others: cost 60"),
        ("breaks instead", 'in the place of "small flow cell": cost 60'),
        ("rival better", '"small flow cell" in its place brings more'),
        ("rival equal", "brings as much"),
        ("rival untried", "stands in its place"),
        ("not found", "was not found"),
        ("impossible", "cannot be made"),
        ("no gain", "nothing measurable"),
        ("harmful", "makes it worse beside the others, by 3.2"),
    ],
)
def test_every_reason_has_its_clause(reason, phrase):
    rows = combinations()
    warnings = np.array(["not computed: too much work\nmore"] * 8, dtype=object)
    result = improvement(
        constraints=Constraints(budget=50.0), combinations=replace(rows, warnings=warnings)
    )
    one = replace(
        result.changes[1], reason=reason, tried=2, rivals=("small flow cell",), tried_gain=-3.2
    )
    assert phrase in left_out(result, one)


@pytest.mark.parametrize(
    ("outcome", "phrase"),
    [
        ("worth it", "Worth it: 3 changes bring plates from 10000 to 20000 (cohumulone), 100 % of"),
        (
            "infeasible",
            "Nothing keeps to the constraints: pressure 180 bar, 80 bar above 100 bar; as it is it "
            "keeps to that at 56 % of its flow; the best set without them (",
        ),
        ("no gain", "Not worth it: no change within the constraints brings better plates."),
        ("needed", "Needed: the start does not keep to the constraints; plates from 10000"),
        ("within error", "Not worth it: the gain is below the discretisation error; plates"),
        ("within uncertainty", "Not worth it: the gain is within the input uncertainty; plates"),
        ("small", "Not worth it: all that is allowed gains 1e+02 %, less than 5 %; plates"),
    ],
)
def test_every_outcome_has_its_verdict(outcome, phrase):
    result = improvement(outcome=outcome, constraints=Constraints(pressure=100e5))
    assert verdict(result).startswith(phrase)


def test_what_is_worth_it_ends_where_one_should_stop():
    result = replace(improvement(outcome="worth it"), stop_after=1)
    assert verdict(result).startswith("Worth it: the first change brings plates from 10000 to 14")
    assert f"each of the 2 steps behind brings less than {100 * result.stop:g} %" in verdict(result)


def test_without_the_constraints_more_is_possible():
    rows = combinations()
    satisfied = np.array([True] * 7 + [False])
    text = findings(improvement(best=6, combinations=replace(rows, satisfied=satisfied)))
    assert any("without the constraints small flow cell, narrow tubes and" in one for one in text)
    # Another combination as good as the best is no matter of constraints.
    text = findings(improvement(best=6))
    assert not any("without the constraints" in one for one in text)


def test_the_clearest_of_many_disagreements_are_told():
    result = improvement()
    gains = [(1000, 100), (900, 500), (800, 900), (700, 1000)]
    changes = [
        replace(one, alone=alone, theory_alone=theory, alone_error=0.0)
        for one, (alone, theory) in zip(result.changes, gains, strict=True)
    ]
    text = theory_lines(replace(result, changes=tuple(changes)))
    assert f"{NAMES[0]} brings 1000 and {NAMES[3]} 700; " in text[0]
    assert f"{NAMES[1]} brings 900 and {NAMES[3]} 700; " in text[1]
    assert text[2] == "They disagree on 6 pairs of changes; these are the clearest."


def test_nothing_is_better():
    assert any(
        "nothing is better than the instrument as it is" in one
        for one in findings(improvement(best=0))
    )


def test_a_broken_constraint_on_the_way_is_said():
    result = improvement(constraints=Constraints(pressure=183e5, signal=0.8))
    assert broken_lines(result) == [
        "After step 1: signal 0.7 of the start's, below 0.8.",
        "After step 2: pressure 185 bar, 2 bar above 183 bar.",
        "After step 2: signal 0.7 of the start's, below 0.8.",
        "After step 3: pressure 185 bar, 2 bar above 183 bar.",
        "After step 3: signal 0.7 of the start's, below 0.8.",
    ]
    assert set(broken_lines(result)) < set(findings(result))


def test_the_sum_of_variances_is_told_where_it_disagrees():
    text = theory_lines(improvement())
    assert "alone, small flow cell brings 4290 and narrow tubes 1760" in text[0]
    assert "says 3000 and 3500" in text[0]
    assert text[1] == "By the sum of variances the steps would be made so: 2 1 3."
    order = tuple(NAMES[:3])
    changes = tuple(replace(one, theory_alone=one.alone) for one in improvement().changes)
    agreed = theory_lines(improvement(changes=changes, theory_order=order))
    assert agreed == ["The sum of variances would make the same steps in the same order."]


def test_the_text_is_narrow_and_ends_with_the_verdict():
    result = improvement(expected=expected(), orders_sampled=48)
    text = as_text(result, "A title", expect=True)
    assert max(map(len, text.splitlines())) <= WIDTH
    assert " ".join(text.split()).endswith(verdict(result))
    assert "What a measurement should show" in text
    assert "13570 to 15000" in text
    assert "4 changes are too many for all combinations" in text
    assert "No acceptance band can be given" in text
    assert "should show" not in as_text(result, "A title")


@pytest.mark.parametrize("width", [20, 60, 80])
def test_a_narrow_terminal_shows_the_same_numbers(width):
    wide = as_text(improvement(), "A title").split()
    narrow = shown(blocks(improvement(), "A title"), width)
    numbers = {one for one in wide if any(map(str.isdigit, one))}
    assert numbers <= {*narrow.split()}


def test_a_figure_that_does_not_exist_is_a_dash():
    result = improvement()
    rows = combinations()
    ceiling = np.full(len(rows.value), NAN)
    result = replace(result, combinations=replace(rows, ceiling=ceiling))
    assert frontier_table(result, "cost").rows[1][4] == "-"


@pytest.mark.parametrize(
    ("half", "start", "last"),
    [(None, "10000", "11800"), (600.0, "10000", "11800"), (2500, "10000", "12000")],
)
def test_the_verdict_has_no_digit_that_nobody_can_know(half, start, last):
    """Three at most, however small the discretisation error; fewer as inputs are uncertain."""
    result = improvement(outcome="worth it")
    steps = (*result.steps[:-1], replace(result.steps[-1], value=11813.2, error=0.4))
    rows = tuple(
        Expectation(
            step=one.number, of=one.of, metric=result.aim.metric, unit="1", value=one.value,
            low=one.value - (half or 0), high=one.value + (half or 0), error=one.error,
        )
        for one in steps
    )  # fmt: skip
    nothing = np.zeros(len(steps))
    known = Expected(rows=rows, samples=64, gain_low=nothing, gain_high=nothing)
    text = verdict(replace(result, steps=steps, expected=None if half is None else known))
    assert f"from {start} to {last} " in text


def test_a_cell_with_nothing_drawn_behind_it_is_told():
    rows = improvement().combinations
    bears = replace(rows, cell_limit=np.full(len(rows.value), 60e5))
    (told,) = [one for one in findings(improvement(combinations=bears)) if "waste line" in one]
    assert "not checked against its limit of 60 bar" in told
    pressed = replace(rows, cell_pressure=np.full(len(rows.value), 1e5))
    assert "waste line" not in " ".join(findings(improvement(combinations=pressed)))
