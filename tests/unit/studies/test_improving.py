"""What the study of changes answers, on a short path."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from reference.improving import CELL, FAST, NOTHING, SECOND, START, TUBE, loaded

from tailrace.journey import travel
from tailrace.measures.registry import (
    APEX,
    CAPACITY,
    EXTRA_COLUMN,
    PLATES,
    PLATES_OWN,
    RECOVERED,
    TAILING,
)
from tailrace.report.improvement.sentences import left_out, remark
from tailrace.studies.improving import Constraints
from tailrace.studies.improving.assemble import stop_after
from tailrace.studies.improving.solve import best_combination, improve

WORSE = '[[changes]]\nname = "worse"\nset = { "joint" = { gap_length = "2 mm" } }\n'
LARGE = (
    '[[changes]]\nname = "large"\ncost = 20\nexcludes = ["cell"]\n'
    'set = { "flow cell" = { volume = "6 uL" } }\n'
)
BARE = '[[changes]]\nname = "bare"\nremove = ["inlet tube"]\nexcludes = ["tube"]\n'
FOUR = (CELL, TUBE, FAST, NOTHING)


def broken(made):
    """Constraints that the first change breaks by itself."""
    assert made.changes[0].reason == "breaks alone"
    return [one.constraint for one in made.violations(made.changes[0].tried)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("improving")


@pytest.fixture(scope="module")
def answer(folder):
    return improve(loaded(folder, *FOUR))


@pytest.fixture(scope="module")
def rivals(folder):
    return improve(loaded(folder, CELL, LARGE, WORSE))


def test_every_combination_is_what_its_journey_alone_says(answer):
    table = answer.combinations
    assert table.taken.shape == (16, 4)
    for row in (0, 5, 15):
        result = travel(answer.scenario_with(answer.names(row)).itinerary())
        for name in (PLATES, PLATES_OWN, TAILING, APEX, RECOVERED, EXTRA_COLUMN):
            own = result.recorded[name]
            assert table.recorded[name][row] == pytest.approx(own, rel=1e-4)
        assert table.pressure[row] == result.pressure.total
        assert table.ceiling[row] == pytest.approx(result.column_alone[PLATES][0])
        variance = sum(part.variance_gaussian_theory for part in result.parts)
        time = sum(part.mean_closed_form for part in result.parts if part.separates)
        assert table.theory[row] == pytest.approx((time**2 / variance)[0], rel=1e-12)
        assert str(table.warnings[row]) == "\n".join(result.warnings)


def test_shares_add_up_and_nothing_gets_nothing(answer):
    shares = {one.name: one.share for one in answer.changes}
    assert sum(shares.values()) == pytest.approx(answer.whole_gain, abs=1e-9)
    assert shares["nothing"] == 0
    assert min(shares["cell"], shares["tube"], shares["fast"]) > 0
    nothing = answer.changes[3]
    assert nothing.alone == nothing.last == 0
    assert nothing.reason == "no gain"


def test_what_brings_less_than_its_own_error_is_not_in_the_best():
    # Bits: 1 brings 1000, 2 brings 3, 4 brings 3, which together are beyond the error of 4.
    figures = np.array([0.0, 1000.0, 3.0, 1003.0, 3.0, 1003.0, 6.0, 1006.0])
    ledger = SimpleNamespace(
        bits=np.arange(8),
        rows={one: one for one in range(8)},
        score=figures,
        value=lambda one: float(figures[one]),
        satisfies=lambda one: True,
        table=SimpleNamespace(
            cost=np.zeros(8),
            effort=np.zeros(8),
            error=np.full(8, 2.0),
            satisfied=np.ones(8, dtype=bool),
        ),
    )
    assert best_combination(ledger) == 1
    figures[7] = 1012.0  # both together bring more than the error, and each without the other not
    assert best_combination(ledger) == 7
    figures[5] = 1009.0  # now the third does it alone
    assert best_combination(ledger) == 5


def test_two_equal_changes_get_equal_shares(folder):
    again = CELL.replace('"cell"', '"same cell"')
    result = improve(loaded(folder, CELL, TUBE, again))
    one, _, other = result.changes
    assert one.share == other.share > 0
    assert len(result.steps) == 3  # the second of the two brings nothing more
    assert [one.in_best for one in result.changes].count(True) == 2


def test_alone_and_last(answer):
    table, cell = answer.combinations, answer.changes[0]
    alone = table.value[table.row([True, False, False, False])] - table.value[0]
    assert cell.alone == pytest.approx(alone)
    # the best that can have it as its last step is all that bring something
    whole = table.row([True, True, True, False])
    assert cell.last == pytest.approx(
        table.value[whole] - table.value[table.row([False, True, True, False])]
    )


def test_steps_add_up_to_the_best(answer):
    steps = answer.steps
    assert steps[0].change == "" and np.isnan(steps[0].gain)
    assert set(steps[-1].taken) == {"cell", "tube", "fast"}
    assert steps[0].value + sum(one.gain for one in steps[1:]) == pytest.approx(steps[-1].value)
    assert steps[-1].total_cost == 960 and steps[-1].combination == answer.best
    assert steps[-1].recovered == pytest.approx(
        (steps[-1].value - answer.start) / (answer.ceiling - answer.start)
    )
    assert answer.worth_it and answer.outcome == "worth it"
    assert steps[0].signal_to_noise == steps[0].signal == steps[0].noise == 1


def test_the_last_step_that_brings_enough(answer):
    gains = [
        after.gain / before.value
        for before, after in zip(answer.steps, answer.steps[1:], strict=False)
    ]
    assert answer.stop_after == max(n for n, gain in enumerate(gains, 1) if gain >= 0.02)
    assert stop_after(answer.steps, 0.9) == max(
        (n for n, gain in enumerate(gains, 1) if gain >= 0.9), default=0
    )


def test_money_comes_first_where_it_is_asked_for(folder, answer):
    result = improve(loaded(folder, *FOUR), order="money")
    assert result.steps[1].change == "fast"  # costs nothing
    assert result.best == answer.best


def test_what_is_left_out_and_why(rivals):
    cell, large, worse = rivals.changes
    assert (cell.in_best, large.in_best, worse.in_best) == (True, False, False)
    assert (large.reason, large.rivals) == ("rival better", ("cell",)) and large.tried_gain < 0
    assert worse.reason == "harmful" and worse.tried_gain < 0
    assert worse.share == 0 and worse.alone < 0
    assert rivals.combinations.taken.sum(axis=1).max() == 2
    assert large.excludes == ("cell",) and cell.excludes == ("large",)


def test_a_budget(folder):
    result = improve(loaded(folder, CELL, LARGE, WORSE), constraints=Constraints(budget=500))
    assert result.names(result.best) == ("large",)
    assert result.changes[0].reason == "breaks alone"
    (broken,) = result.violations(result.changes[0].tried)
    assert (broken.constraint, broken.value, broken.limit) == ("budget", 900, 500)
    assert result.names(result.whole) == ("cell",)


def test_pressure_signal_and_effort_are_kept_to(folder):
    most = improve(loaded(folder, TUBE)).combinations.pressure
    result = improve(loaded(folder, TUBE), constraints=Constraints(pressure=most.mean()))
    assert result.best == 0 and broken(result) == ["pressure"]
    assert not result.worth_it
    result = improve(loaded(folder, FAST), constraints=Constraints(signal_to_noise=0.9))
    assert broken(result) == ["signal_to_noise"]
    slow = FAST + 'effort = "3 h"\n'
    result = improve(loaded(folder, slow), constraints=Constraints(effort=7200.0))
    assert broken(result) == ["effort"]
    assert left_out(result, result.changes[0]) == "working time 3 h, 1 h above 2 h"


def test_the_limit_of_each_cell_counts(folder):
    weak = CELL.replace('"2 uL"', '"2 uL", pressure_limit = "0.5 bar"')
    behind = '[[path]]\nname = "waste"\npart = "tube"\nbore = "0.12 mm"\nlength = "200 mm"\n' + weak
    start = START.replace("[detector]", "[after]").split("[after]")
    result = improve(loaded(folder, behind, "[detector]" + start[1], start=start[0]))
    assert broken(result) == ["cell_pressure"]


def test_the_method_keeps_its_heat(folder):
    method = 'temperature = "35 degC"'
    start = START.replace(method, method + "\nneeds_temperature_control = true")
    result = improve(loaded(folder, BARE, TUBE, start=start))
    bare, tube = result.changes
    assert (bare.reason, bare.heaters) == ("forbidden", ("inlet tube",))
    assert np.isnan(bare.alone) and bare.share == 0 and tube.in_best
    assert len(result.combinations.taken) == 2
    heated = BARE.replace(
        'remove = ["inlet tube"]',
        'replace = { "inlet tube" = { part = "tube", bore = "0.1 mm", length = "90 mm", '
        "heater = true } }",
    )
    assert improve(loaded(folder, heated, TUBE, start=start)).changes[0].heaters == ()


def test_needs(folder):
    needing = FAST + 'needs = ["tube"]\n'
    result = improve(loaded(folder, TUBE, needing))
    assert len(result.combinations.taken) == 3
    assert [one.change for one in result.steps] == ["", "tube", "fast"]
    tube, fast = result.changes
    both, one = (result.combinations.value[result.combinations.row(r)] for r in ([1, 1], [1, 0]))
    assert fast.alone == pytest.approx(both - one) and tube.share > tube.alone


@pytest.mark.parametrize(
    ("aim", "of", "label"),
    [
        ("tailing", "", "tailing"),
        ("resolution", "", "resolution"),
        ("resolution", "late/early", "resolution"),
        ("signal", "late", "signal-to-noise ratio over the start's"),
        ("plates", "late", "plates at own retention"),
    ],
)
def test_aims(folder, aim, of, label):
    made = improve(loaded(folder, CELL, FAST, start=START + SECOND), aim=aim, of=of)
    assert made.aim.label == label
    whole = sum(one.share for one in made.changes)
    assert whole == pytest.approx(made.whole_gain, abs=1e-9)
    result = travel(made.scenario.itinerary())
    apex, width = result.recorded["apex"], result.recorded["width_half"]
    expected = {
        "tailing": result.recorded["tailing_5"].max(),
        "resolution": np.sqrt(2 * np.log(2)) * np.diff(apex)[0] / width.sum(),
        "signal": 1.0,
        "plates": result.recorded["plates_own_retention"][1],
    }
    assert made.start == pytest.approx(expected[aim], rel=1e-4)
    assert made.whole_gain > 0
    assert made.aim.sign * (made.combinations.value[made.whole] - made.start) > 0


def test_a_gradient_has_a_peak_capacity(folder):
    rows = '[gradient]\nprogramme = [{ time = "0 min", strong = 0.1 }, { time = "5 min", '
    start = START.replace("retention_factor = 1.5", "kw = 500\ns = 4.5").replace(
        "[[path]]", rows + "strong = 0.9 }]\n[[path]]", 1
    )
    made = improve(loaded(folder, CELL, TUBE, start=start))
    assert made.aim.metric == CAPACITY and "no plates" in remark(made)
    result = travel(made.scenario_with(made.names(made.best)).itinerary())
    value = made.combinations.value[made.best]
    assert value == pytest.approx(result.recorded[CAPACITY][0], rel=1e-4)
    assert made.changes[0].share > made.changes[1].share  # what is before the column is focused


def test_frontiers_are_what_no_other_beats(answer):
    table = answer.combinations
    for name, rows in answer.frontiers.items():
        demand = -table.signal_to_noise if name == "signal_to_noise" else getattr(table, name)
        assert len(rows) and (np.diff(table.value[rows]) > 0).all()
        assert (np.diff(demand[rows]) >= 0).all()
        for row in range(16):
            doubt = table.error[row] + table.error[rows].max()
            cheaper = rows[demand[rows] <= demand[row]]
            assert table.value[row] <= table.value[cheaper].max() + doubt


def test_groups_of_steps(answer):
    assert replace(answer, swappable=(1, 2, 5)).ties == ((1, 2, 3), (5, 6))
    assert replace(answer, swappable=()).ties == ()
