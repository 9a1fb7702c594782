"""Positions of sliders: what a single journey says, refused where they do not fit."""

import numpy as np
import pytest
from reference.tree import ROOT

import tailrace
from tailrace.errors import AccuracyError, BudgetError
from tailrace.journey import travel
from tailrace.scenario.scenario import Scenario
from tailrace.studies import batch
from tailrace.studies import sliders as room
from tailrace.studies.axes import axis
from tailrace.studies.sliders import SliderError, sliders, start, textbook

SLIDE = ("inlet tube.length = 50, 100, 200 mm", "detector.time_constant = 0.05, 0.1 s")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    from .conftest import SCENARIO

    file = tmp_path_factory.mktemp("sliders") / "short.toml"
    file.write_text(SCENARIO)
    return sliders(tailrace.load(file), SLIDE)


def test_every_position_has_its_curves(made):
    assert made.positions == [(0, 0), (0, 1), (1, 0), (1, 1), (2, 0), (2, 1)]
    assert made.solutes == ("early", "late")
    for lines in (made.recorded, made.own):
        assert len(lines) == 6
        assert all(len(one) == 2 and None not in one for one in lines)
    assert all(made.computed(position) for position in range(6))


@pytest.mark.parametrize("position", [0, 5])
def test_a_curve_is_that_of_a_single_journey(made, position):
    alone = travel(made.sweep.plan.itineraries[position])
    for lane in range(2):
        for band, points in (
            (alone.recorded_band, made.recorded[position][lane]),
            (alone.column_band, made.own[position][lane]),
        ):
            one = band.lane(lane)
            drawn = np.interp(one.times[0], points.times, points.heights, 0.0, 0.0)
            assert np.abs(drawn - one.values[0]).max() < 1e-3 * one.values[0].max()


def test_figures_are_those_of_the_position(made):
    alone = travel(made.sweep.plan.itineraries[4])
    reported = made.result(4)
    for name in ("plates_half_height", "tailing_5"):
        error = alone.numerical_error[name] + reported.numerical_error[name]
        assert np.all(np.abs(reported.recorded[name] - alone.recorded[name]) <= error)


def test_the_textbook_peak_is_the_sum_over_the_parts(made):
    reported = made.result(0)
    mean, variance = textbook(reported, 1)
    assert mean == pytest.approx(
        sum(part.mean_closed_form[1] for part in reported.parts), rel=1e-12
    )
    # No gradient: nothing is focused.
    text = sum(part.variance_gaussian_theory[1] for part in reported.parts)
    assert variance == pytest.approx(text, rel=1e-12)


def test_with_a_gradient_what_is_focused_is_taken_off(made, make_result):
    from dataclasses import replace

    result = make_result()
    before = replace(result.parts[1], gradient_focusing=np.array([0.75]))
    focused = replace(result, parts=(result.parts[0], before, *result.parts[2:]))
    given = before.variance_gaussian_theory[0]
    assert textbook(result, 0)[1] - textbook(focused, 0)[1] == pytest.approx(0.75 * given)


def test_one_solute_alone(scenario):
    result = sliders(scenario, ["cell.tanks = 1, 2"], ["late"])
    assert result.solutes == ("late",)
    assert result.shown == (1,)
    assert all(len(one) == 1 for one in result.recorded)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("inlet tube.length = 50, 90, 200 mm", 1),
        ("late.particle = core-shell, fully porous", 1),
        ("cell.tanks = 1, 2", 0),
        ("late.retention_factor = 1, 2.8, 4", 1),
    ],
)
def test_a_slider_starts_at_what_the_scenario_says(scenario, text, place):
    import tomllib

    document = tomllib.loads(scenario.text)
    document["path"][1]["particle"] = "fully porous"
    written = scenario.text.replace('particle_diameter = "2.7 um"', 'particle = "fully porous"')
    from dataclasses import replace

    assert start(replace(scenario, text=written), axis(document, text)) == place


@pytest.mark.parametrize(
    ("slide", "solutes", "kind", "text"),
    [
        (["cell.tanks = 1, 2"], ["latte"], SliderError, "--solute: .*latte.*late"),
        (
            [f"{name} = 1, 2 mm" for name in ("inlet tube.length", "a.b", "c.d", "e.f")],
            [],
            SliderError,
            "at most 3 sliders where a page cannot compute, found 4; leave some out",
        ),
        (
            [
                "inlet tube.length = 50 .. 90 mm, 50 points",
                "method.flow = 0.5 .. 1 mL/min, 50 points",
            ],
            [],
            BudgetError,
            r"at most \d+ positions.*3 MB, found 2500; use fewer points, or fewer solutes",
        ),
    ],
)
def test_what_does_not_fit_is_refused_before_anything_is_computed(
    scenario, monkeypatch, slide, solutes, kind, text
):
    monkeypatch.setattr(room, "plan", None)
    with pytest.raises(kind, match=text) as caught:
        sliders(scenario, slide, solutes)
    assert caught.value.exit_code == 2


def test_a_position_that_cannot_be_computed_leaves_the_others(scenario, monkeypatch):
    def failing(itinerary):
        volumes = itinerary.passages[1][0].length
        if np.any(np.asarray(volumes) > 0.15):
            raise BudgetError("inlet tube: too long")
        return travel(itinerary)

    monkeypatch.setattr(batch, "travel", failing)
    result = sliders(scenario, ["inlet tube.length = 50, 100, 200 mm"])
    assert [result.computed(position) for position in range(3)] == [True, True, False]
    assert result.recorded[2].tolist() == result.own[2].tolist() == [None, None]
    assert "too long" in result.sweep.metrics["warnings"][2]
    with pytest.raises(AccuracyError, match="no case could be computed"):
        sliders(scenario, ["inlet tube.length = 200, 300 mm"])


def test_threads_change_nothing(scenario, monkeypatch):
    result = []
    for threads in ("1", "3"):
        monkeypatch.setenv("NUMBA_NUM_THREADS", threads)
        result.append(sliders(scenario, SLIDE))
    for one, other in zip(result[0].recorded, result[1].recorded, strict=True):
        for left, right in zip(one, other, strict=True):
            np.testing.assert_array_equal(left.heights, right.heights)
            np.testing.assert_array_equal(left.times, right.times)


def test_own_errors_reach_what_a_finer_run_says():
    file = ROOT / "scenarios" / "lessons" / "two-tails-a.toml"
    text = file.read_text("utf-8").partition("[numerics]")[0]
    slide = ["base.amount = 0.35, 7 nmol"]
    usual, fine = (
        sliders(Scenario.from_text(text + f"[numerics]\naccuracy = {accuracy}\n"), slide)
        for accuracy in (1e-3, 1.6e-5)
    )
    for name in ("plates_half_height", "tailing_5", "width_half", "height", "variance"):
        one, other = (made.metrics[f"column_alone/{name}"] for made in (usual, fine))
        assert np.all(np.abs(one - other) <= usual.own_errors[name])
        assert np.all(usual.own_errors[name] < 0.1 * one)
