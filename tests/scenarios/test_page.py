"""The page as shipped: of today's scenario, small, and with marches that the solver makes today."""

import re
from pathlib import Path

import pytest
from reference.slider_pages import SliderPage

import tailrace
from tailrace.journey import travel

FOLDER = Path(__file__).parents[2] / "scenarios"
PAGE = FOLDER / "pages" / "inherited-core-shell.html"
MOST_BYTES = 600_000
FIELDS = ("tube to heater.length", "flow cell.volume", "detector.time_constant")
UNITS = ("m", "m^3", "s")


@pytest.fixture(scope="module")
def read():
    return SliderPage(PAGE.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def scenario():
    return tailrace.load(FOLDER / "inherited-core-shell.toml")


def test_it_is_of_the_scenario_as_it_stands(read, scenario):
    assert scenario.sha256 in read.text, "make it anew: it says how"
    assert scenario.title in read.text
    assert len(re.findall(r"--slide '([^']*)'", read.text)) == 3
    assert PAGE.stat().st_size < MOST_BYTES


def test_it_starts_where_the_scenario_stands(read):
    assert [axis["start"] for axis in read.data["axes"]] == pytest.approx([0.4, 13e-9, 0.5])
    assert read.data["checks"][0]["text"] == "the scenario"


@pytest.mark.parametrize("place", [0, 4, -1])
def test_a_marched_position_is_what_the_solver_says_today(read, scenario, place):
    told, name = read.data["checks"][place], read.data["leading"]
    values = {
        field: f"{value!r} {unit}"
        for field, value, unit in zip(FIELDS, told["at"], UNITS, strict=True)
    }
    result = travel((scenario.changed(values) if place else scenario).itinerary())
    for lane, one in enumerate(told["solutes"]):
        value, error = one["leading"]
        allowed = 2 * error + result.numerical_error[name][lane]
        assert value == pytest.approx(result.recorded[name][lane], abs=allowed)
