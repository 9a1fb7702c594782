"""Alt texts of the pictures of records: what is told is what is drawn, in numbers with units."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from reference.improvements import improvement
from reference.studies import made_up

import tailrace
from tailrace.figures.diagnosis import _banded, draw_plan
from tailrace.figures.drift import draw_drift
from tailrace.figures.improvement import demands_that_tell, draw_frontiers, draw_staircase
from tailrace.figures.measured import draw_overlay, draw_overlays
from tailrace.figures.path import draw_stages
from tailrace.figures.sizes import size_of, wanting
from tailrace.figures.style import styled
from tailrace.figures.tolerance import draw_distributions, draw_regions
from tailrace.studies.measured.result import Overlay
from tailrace.studies.tolerance.result import Drifting, Interval


@pytest.fixture(scope="module")
def study():
    return made_up(tailrace.load("scenarios/improved-core-shell.toml"))


def overlay(**others):
    times = np.linspace(0.0, 10.0, 101)
    signal = 20 * np.exp(-((times - 4) ** 2) / 2)
    values = {
        "name": "union",
        "file": "union.csv",
        "sha256": "",
        "solute": "a",
        "signal_unit": "mAU",
        "noise": 0.5,
        "noise_left": 0.5,
        "delay": 0.0,
        "area": 1.0,
        "residual_over_noise": 1.0,
        "times": times,
        "signal": signal,
        "simulated": 0.9 * signal,
    }
    return Overlay(**values | others)


def test_an_overlay_tells_both_heights_and_what_is_left_with_their_unit():
    said = draw_overlay(overlay()).description
    assert "highest with 20 mAU, and the simulated one" in said
    assert "highest with 18 mAU at 4 s" in said
    assert said.endswith("at most 2 mAU, 4 times the standard deviation of the noise.")


def test_an_overlay_without_unit_or_noise_says_no_nonsense():
    said = draw_overlay(overlay(signal_unit="", noise_left=0.0)).description
    assert said.endswith("at most 2 (unit not said).")


def test_several_signals_stand_in_one_picture_each_told_by_its_name():
    flows = [overlay(name=f"{flow} mL/min", noise_left=0.5 * flow) for flow in (1, 2, 4, 8)]
    several = draw_overlays(flows)
    titles = [one.get_title(loc="left") for one in several.figure.axes]
    assert titles[::2] == [one.name for one in flows]
    for flow in (1, 2, 4, 8):  # 2 mAU are left at each
        assert f"{4 / flow:.3g} times the standard deviation of the noise" in several.description
        assert f"{flow} mL/min: The measured signal" in several.description


def test_frontiers_tell_of_the_panels_that_are_drawn():
    whole = improvement()
    picture = draw_frontiers(whole)
    labels = {"cost": "Cost", "effort": "Work, min", "pressure": "Pressure, bar"}
    shown = demands_that_tell(whole) or ["cost"]
    for demand, label in labels.items():
        assert (label in picture.description.partition("little. ")[2]) == (demand in shown)


def test_bars_with_an_uncertainty_tell_its_interval():
    whole = improvement()
    first, *others = whole.steps
    told = [replace(one, gain_low=0.5 * one.gain, gain_high=2 * one.gain) for one in others]
    unsure = replace(whole, steps=(first, *told))
    said = draw_staircase(unsure).description
    assert "in brackets 95 % of the input uncertainty" in said
    assert said.count(" to ") >= len(told)
    assert "in brackets" not in draw_staircase(whole).description


def test_stages_tell_the_widths_of_every_solute(make_result):
    said = draw_stages(make_result(lanes=("a", "b"))).description
    assert said.count("Width at half height of") == 2


def test_histograms_tell_mean_and_limits(study):
    said = draw_distributions(study).description
    assert said.count("mean ") == len(study.outcomes)
    limits = [math.isfinite(one.at_least) for one in study.outcomes]
    assert said.count("at least ") == sum(limits) > 0


def test_maps_tell_how_much_of_what_is_stated_is_satisfied(study):
    one = study.maps[0]
    inside = tuple(
        Interval(low=float(values[0]), high=float(values[-1])) for values in (one.first, one.second)
    )
    accepted = np.ones_like(one.allowed)
    accepted[0, 0] = 0
    changed = replace(one, stated=inside, allowed=accepted)
    said = draw_regions(replace(study, maps=(changed,))).description
    assert f"within what is stated {one.allowed.size - 1} of {one.allowed.size}" in said
    assert "uL" not in said


def drifting(assured):
    shares = np.array([0.0, 0.1])
    return Drifting(
        drifts=(),
        risk=0.05,
        confidence=0.95,
        horizon=12.0,
        injections_per_month=0.0,
        instruments=100,
        kept=90,
        times=np.array([0.0, 12.0]),
        fallen=shares,
        fallen_low=0.5 * shares,
        fallen_high=1.5 * shares,
        interval=6.0,
        interval_error=Interval(low=5.0, high=7.0),
        assured=assured,
        criteria=("plates",),
        first=np.array([0.1]),
    )


@pytest.mark.parametrize(
    ("assured", "told"),
    [(5.5, "not exceeded for 5.5 months"), (0.0, "too few to show"), (math.inf, "as far as")],
)
def test_drift_tells_how_long_the_stated_risk_is_kept(assured, told):
    said = draw_drift(drifting(assured)).description
    assert "risk of 5 %" in said
    assert told in said


def test_a_band_has_two_digits():
    assert _banded(6.0312, 1.0749) == "6.0 ± 1.1"
    assert _banded(6.0312, 0.0) == "6.03"


def test_what_a_plan_should_show_has_room_at_84_mm():
    rows = [
        SimpleNamespace(
            name=f"union, without tube to column {place}",
            variance=1e-18 * value,
            variance_low=0.88e-18 * value,
            variance_high=1.12e-18 * value,
        )
        for place, value in enumerate((5.0, 10.0, 15.0))
    ]
    with wanting(size_of("84mm")):
        picture = draw_plan(SimpleNamespace(measurings=rows))
    assert picture.description.count("±") == 3
    figure = picture.figure
    with styled():
        renderer = FigureCanvasAgg(figure).get_renderer()
        ends = [text.get_window_extent(renderer).x1 for text in figure.axes[0].texts]
    assert max(ends) <= figure.bbox.x1
