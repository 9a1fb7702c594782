"""Fits to invented measurements: the truth is found, within what is said; limits are named."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from reference.measured import SMALL, measured_scenario, with_rows
from reference.tree import ROOT

import tailrace
from tailrace.cli import main
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.studies.measured.fitting import fit, plan
from tailrace.studies.measured.inventing import Invention
from tailrace.studies.measured.optimising import groups, interval, least_squares
from tailrace.studies.measured.writing import fitted_text

THREE = with_rows(
    ("u05", ""),
    ("u02", 'flow = "0.2 mL/min"'),
    ("u10", 'flow = "1.0 mL/min"\nbaseline = "constant"'),
)
HOW = [
    Invention(interval=0.05),
    Invention(signal_to_noise=300, interval=0.1, drift=0.1),
    Invention(interval=0.025, correlation=0.4),
]
CELL = {"flow cell__volume": "4 uL"}
TRUTH = {
    "flow cell.volume": 2.4e-9,
    "detector.time_constant": 0.05,
    "tube to cell.length": 0.3,
    "solutes.marker.diffusivity": 1e-9,
}
UNITS = dict(zip(TRUTH, ("m^3", "s", "m", "m^2/s"), strict=True))
FITS = 24


def test_the_truth_is_found_within_what_is_said():
    """Of 200 such fits 95 % of 500 intervals held the truth; here a smaller sample, of which
    1 in 100 would hold less than 88 %."""
    random, held, ratios = np.random.default_rng(7), [], []
    for seed in range(FITS):
        chosen = random.choice(list(TRUTH), 1 + seed % 4, replace=False).tolist()
        ratio = 50 * 100 ** random.random()
        how = [Invention(signal_to_noise=ratio, interval=one) for one in (0.05, 0.1, 0.025)]
        scenario = measured_scenario(THREE, how, 1000 + seed)
        off = {name: TRUTH[name] * (1 + 0.2 * random.uniform(-1, 1)) for name in chosen}
        found = fit(scenario.changed({k: f"{v!r} {UNITS[k]}" for k, v in off.items()}), chosen)
        assert not found.at_fault
        for one in found.free:
            held.append(one.low <= TRUTH[one.field] <= one.high)
            ratios.append((one.high - one.low) / (2 * 1.96 * one.standard_uncertainty))
    assert np.mean(held) >= 0.88
    # the covariance is that of Cramer and Rao
    assert max(ratios) < 3


def test_what_cannot_be_told_apart_is_named():
    """Two tubes of one bore on a union: their order leaves no trace, only their sum."""
    found = fit(measured_scenario(THREE, HOW, 1), ["tube to column.length", "tube to cell.length"])
    assert found.indistinguishable == (("tube to column.length", "tube to cell.length"),)


def test_two_joints_that_may_exchange_their_gaps_are_named_and_hold_the_truth():
    """The exercise hides a gap of 0.362 mm before the column, of 0.05 mm behind it."""
    scenario = tailrace.load(ROOT / "scenarios" / "measured" / "after-service.toml")
    names = ("joint before.gap_length", "joint behind.gap_length")
    found = fit(scenario, names)
    assert found.indistinguishable == (names,)
    for one, truth in zip(found.free, (0.362e-3, 0.05e-3), strict=True):
        assert one.low <= truth <= one.high


def test_a_model_at_fault_is_said_and_widens_the_uncertainty():
    scenario = measured_scenario(THREE, HOW, 1, **CELL)
    wrong = fit(scenario, ["detector.time_constant"])
    right = fit(scenario, ["detector.time_constant", "flow cell.volume"])
    assert wrong.at_fault and wrong.residual_over_noise > 3
    assert not right.at_fault and right.residual_over_noise == pytest.approx(1, abs=0.1)
    ratio = wrong.free[0].standard_uncertainty / right.free[0].standard_uncertainty
    assert ratio > 3


def test_a_prior_counts_as_an_observation():
    """With one that is as sharp as the data the variance halves: 1/u^2 add up."""
    scenario = measured_scenario(THREE, HOW, 1)
    alone = fit(scenario, ["tube to cell.length"]).free[0]
    known = (
        '[[uncertain]]\nfield = "tube to cell.length"\ndistribution = "normal"\n'
        f'standard_deviation = "{alone.standard_uncertainty!r} m"\n'
    )
    text = THREE.replace("[[measured]]", known + "[[measured]]", 1)
    both = fit(measured_scenario(text, HOW, 1), ["tube to cell.length"]).free[0]
    assert both.standard_uncertainty == pytest.approx(
        alone.standard_uncertainty / np.sqrt(2), rel=0.01
    )
    assert both.value == pytest.approx((alone.value + 0.3) / 2, rel=1e-4)


def test_carried_inputs_widen_what_is_found():
    known = '[[uncertain]]\nfield = "tube to cell.bore"\ndistribution = "normal"\nrelative = 0.03\n'
    text = THREE.replace("[[measured]]", known + "[[measured]]", 1)
    sure = fit(measured_scenario(THREE, HOW, 1), ["flow cell.volume"])
    carried = fit(measured_scenario(text, HOW, 1), ["flow cell.volume"])
    assert [one.field for one in carried.free] == ["flow cell.volume"]
    assert len(carried.parameters) == 2
    assert carried.free[0].standard_uncertainty > 1.2 * sure.free[0].standard_uncertainty


def test_the_new_scenario_agrees_with_the_signals():
    scenario = measured_scenario(THREE, HOW, 1, **CELL)
    assert not tailrace.compare(scenario).agrees
    found = fit(scenario, ["flow cell.volume"])
    new = Scenario.from_text(fitted_text(scenario, found), files=scenario.files.contents())
    assert new.document.path[-1].volume == pytest.approx(4e-9, rel=0.01)
    (row,) = new.document.uncertain
    assert (row.kind, row.because) == ("knowledge", "fitted to u05.csv, u02.csv, u10.csv")
    assert tailrace.compare(new).agrees


def test_groups_and_the_covariance_of_a_straight_line():
    correlation = np.array([[1.0, -0.99, 0.1], [-0.99, 1.0, 0.2], [0.1, 0.2, 1.0]])
    assert groups(correlation, ["a", "b", "c"], 0.95) == [("a", "b")]
    slopes = np.array([[1.0], [2.0]])
    line = least_squares(lambda v: slopes @ v - [1, 2.2], np.zeros(1), lambda v: slopes)
    assert line.values[0] == pytest.approx(1.08)
    assert line.covariance[0, 0] == pytest.approx(1 / 5)


def test_the_interval_is_looked_for_where_the_covariance_misleads():
    """The sum of squares of exp(v) - 1 over 0.3 is known in closed form: its ends are
    log(1 +- 1.96 * 0.3), that of the covariance would be +- 0.588."""

    def residuals(values):
        return (np.exp(values) - 1) / 0.3

    def squares_of(values):
        return float(np.sum(residuals(values) ** 2))

    optimum = least_squares(residuals, np.array([0.2]), lambda v: np.exp(v)[:, None] / 0.3)
    ways = squares_of, lambda value, others: (squares_of(np.array([value])), np.array([value]))
    low, high, misled = interval(ways, optimum, 0, 0.3, 1.0, (-5.0, 5.0))
    assert misled
    assert (low, high) == pytest.approx(np.log([1 - 0.588, 1 + 0.588]), abs=0.01)
    # a covariance that is far too wide begins at the last value that is looked at
    *ends, misled = interval(ways, optimum, 0, 10.0, 1.0, (-0.5, 8.0))
    assert misled
    assert ends == pytest.approx([-0.5, np.log(1 + 0.588)], abs=0.01)


def test_what_may_be_next_to_nothing_has_an_upper_limit_alone():
    """A gap of a fiftieth of what the file says: its derivative vanishes there, so the covariance
    says next to nothing; the search for the interval's ends goes beyond the bounds of no field."""
    text = with_rows(("u05", ""), head=SMALL)
    scenario = measured_scenario(text, HOW[0], 3, **{"joint before__gap_length": "0.001 mm"})
    one = fit(scenario, ["joint before.gap_length"]).free[0]
    assert one.profiled and one.cut == "lower"
    assert one.low <= one.value <= one.high < 5e-5
    assert one.standard_uncertainty == pytest.approx((one.high - one.low) / 3.92, rel=1e-3)


WRONG = {
    "no such field": ("flow cell.volum", "volume"),
    "a field without a number": ("tube to cell.bend_radius", "number other than 0"),
    "a part that was taken out": ("column.length", "matters for a measurement"),
}


@pytest.mark.parametrize("name", WRONG)
def test_fields_that_cannot_be_fitted_are_refused(name):
    field, why = WRONG[name]
    with pytest.raises(StudyError, match=why):
        fit(measured_scenario(THREE, HOW, 1), [field])


def test_the_command_fits_writes_and_reads_back(tmp_path):
    scenario = measured_scenario(THREE, HOW, 1, **CELL)
    for name, content in scenario.files.contents().items():
        (tmp_path / name).write_bytes(content)
    file, out = tmp_path / "s.toml", tmp_path / "out"
    file.write_text(THREE)
    free = ["--free", "flow cell.volume", "detector.time_constant"]
    done = CliRunner().invoke(main, ["fit", str(file), *free, "--json", "--out", str(out)])
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    cell, constant = told["parameters"]
    assert cell["interval"][0] < 4e-9 < cell["interval"][1]
    assert constant["field"] == "detector.time_constant"
    assert np.shape(told["correlation"]) == (2, 2)
    assert told["indistinguishable"] == []
    assert tailrace.read(out / "record.h5").to_json() == done.stdout.rstrip("\n")
    assert tailrace.load(out / "fitted.toml").document.path[-1].volume == pytest.approx(
        cell["value"], rel=1e-5
    )
    assert "Cautions" in (out / "report.html").read_text("utf-8")


def test_derivatives_are_exact():
    """Against Richardson's extrapolation of differences of the residuals themselves, at the
    optimum of noise-free signals, where what the projection changes is nothing."""
    how = [Invention(interval=one, signal_to_noise=1e9) for one in (0.05, 0.1, 0.025)]
    problem = plan(measured_scenario(THREE, how, 1), [*TRUTH]).problem
    start = problem.start
    exact = problem.jacobian(start)
    for k in range(start.size):
        ways = []
        for step in (2e-3, 1e-3):
            move = step * np.eye(start.size)[k]
            ends = [problem.residuals(start + sign * move) for sign in (1, -1)]
            ways.append((ends[0] - ends[1]) / (2 * step))
        best = (4 * ways[1] - ways[0]) / 3
        assert np.abs(exact[:, k] - best).max() < 1e-5 * np.abs(best).max()
