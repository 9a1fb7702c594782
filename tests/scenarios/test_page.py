"""The page as shipped: of today's scenario and today's numbers."""

import re
from pathlib import Path

import numpy as np
import pytest
from reference.slider_pages import SliderPage, curve_of

import tailrace
from tailrace.journey.product import multiply
from tailrace.studies.axes import choices
from tailrace.studies.sliders import BYTES, BYTES_OF_PART
from tailrace.studies.sweeping import plan as planned

FOLDER = Path(__file__).parents[2] / "scenarios"
PAGE = FOLDER / "pages" / "inherited-core-shell.html"
MOST_BYTES = 3_000_000


@pytest.fixture(scope="module")
def read():
    return SliderPage(PAGE.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def plan(read):
    """The sliders as the page itself says that they were asked for."""
    asked = re.findall(r"--slide '([^']*)'", read.text)
    assert len(asked) == 3
    return planned(tailrace.load(FOLDER / "inherited-core-shell.toml"), asked)


def test_it_is_of_the_scenario_as_it_stands(read, plan):
    assert plan.scenario.sha256 in read.text, "make it anew: it says how"
    assert plan.scenario.title in read.text
    assert len(read.data["cases"]) == len(plan.itineraries) >= 200


def test_what_was_reckoned_for_its_size_holds(read, plan):
    # What refuses too many positions beforehand is no less than what they take.
    size, curves = PAGE.stat().st_size, len(plan.itineraries) * len(read.data["solutes"])
    assert size <= MOST_BYTES
    assert 0.8 < size / curves / (BYTES + BYTES_OF_PART * len(read.data["parts"])) < 1


def test_it_starts_where_the_scenario_stands(read, plan):
    places = [axis["start"] for axis in read.data["axes"]]
    labels = [axis["labels"][axis["start"]] for axis in read.data["axes"]]
    assert labels == ["400 mm", "13 uL", "0.5 s"]
    position = choices(plan.axes).index(tuple(places))
    own = tailrace.load(FOLDER / "inherited-core-shell.toml").itinerary()
    for (mine, _), (other, _) in zip(
        plan.itineraries[position].passages, own.passages, strict=True
    ):
        assert mine == other


def number(text):
    return float(text.split(" ")[0])


@pytest.mark.parametrize("place", [(0, 0, 0), (6, 4, 4), (7, 5, 5), (3, 1, 2)])
def test_a_position_is_what_the_solver_says_today(read, plan, place):
    data = read.data
    position = choices(plan.axes).index(place)
    # as the page was made: of so many positions products, held against marches where it was made
    result = multiply(plan.itineraries[position])
    for lane, name in enumerate(result.lanes):
        assert data["solutes"][lane] == name
        reported = data["cases"][position]["solutes"][lane]
        for row, figure in ((0, "plates_own_retention"), (2, "tailing_5"), (3, "width_half")):
            text = reported["figures"][3 * row + 1]
            # Both errors, and the last digit that is shown.
            shown = float(text.split(" ± ")[1])
            allowed = 2 * shown + result.numerical_error[figure][lane]
            assert number(text) == pytest.approx(result.recorded[figure][lane], abs=allowed)
        shares = [part.variance_recorded[lane] for part in result.parts]
        said = [float(text.lstrip("<")) for text in reported["parts"][2::3]]
        np.testing.assert_allclose(said, 100 * np.array(shares) / sum(shares), atol=0.06)
        times, heights = curve_of(data, position, lane)
        one = result.recorded_band.lane(lane)
        drawn = np.interp(one.times[0], times, heights, 0.0, 0.0)
        # 0.1 % is what the page says; two runs beside other lanes differ by their errors.
        assert np.abs(drawn - one.values[0]).max() < 1.2e-3 * one.values[0].max()
