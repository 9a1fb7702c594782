"""What the answer is most sensitive to, against runs of scenarios that say it otherwise."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import tailrace
from tailrace.cli import main
from tailrace.journey import travel
from tailrace.report.run import as_json, as_text
from tailrace.scenario.doubts import assumptions_of
from tailrace.scenario.scenario import Scenario

SHIPPED = Path(__file__).parents[3] / "scenarios"
TEXT = (SHIPPED / "inherited-core-shell.toml").read_text().split("[[changes]]")[0]
OPEN = "\n".join(line for line in TEXT.splitlines() if not line.startswith("tanks"))


@pytest.fixture(scope="module")
def result():
    return tailrace.run(Scenario.from_text(OPEN))


def test_a_cell_that_says_nothing_of_its_mixing_is_named_first_with_both_ends(result):
    first = result.assumptions[0]
    assert (first.subject, first.metric) == ("flow cell", "plates_own_retention")
    assert len(result.assumptions) == 3
    assert first.low == pytest.approx(result.recorded["plates_own_retention"], rel=1e-9)
    along = re.sub(r"light_path +=", "length =", OPEN)
    assert along != OPEN
    other = tailrace.run(Scenario.from_text(along))
    assert first.high == pytest.approx(other.recorded["plates_own_retention"], rel=1e-3)
    assert "flow cell" not in [one.subject for one in other.assumptions]


def test_it_is_told_in_text_json_and_check(result, tmp_path):
    text = as_text(result, "")
    assert "most sensitive to three assumptions" in text
    assert "V^2/12" in text
    told = as_json(result, "", "", "")["assumptions"]
    assert [one["subject"] for one in told] == [one.subject for one in result.assumptions]
    path = tmp_path / "open.toml"
    path.write_text(OPEN)
    done = CliRunner().invoke(main, ["check", str(path)])
    assert "What matters most\n  flow cell: taken as one mixed tank" in done.stdout
    assert done.stdout.count("What settles it") == 3


def test_a_record_keeps_it(result, tmp_path):
    result.save(tmp_path / "record.h5")
    kept = tailrace.read(tmp_path / "record.h5")
    assert [one.settled for one in kept.assumptions] == [one.settled for one in result.assumptions]
    assert kept.assumptions[0].high.tolist() == result.assumptions[0].high.tolist()


def test_what_is_given_is_no_assumption():
    given = [one.subject for one in assumptions_of(Scenario.from_text(TEXT))]
    assert "flow cell" not in given


def test_with_a_gradient_three_are_named_with_what_real_journeys_leave():
    scenario = Scenario.load(SHIPPED / "gradient-core-shell.toml")
    found = {one.taken[:6]: one for one in assumptions_of(scenario)}
    assert set(found) == {"straig", "plates", "the us"}
    journey = scenario.itinerary()

    def otherwise(**values):
        changed = tuple(
            (replace(part, **values) if part.separates else part, stream)
            for part, stream in journey.passages
        )
        return travel(replace(journey, passages=changed)).recorded

    for one, (low, high) in (
        (found["plates"], ({"plates_over_curve": 0.8}, {"plates_over_curve": 1.2})),
        (found["the us"], ({"porosity": 0.55}, {"porosity": 0.5})),
    ):
        less, more = otherwise(**low), otherwise(**high)
        assert one.low == pytest.approx(less["peak_capacity"], rel=1e-3)
        assert one.high == pytest.approx(more["peak_capacity"], rel=1e-3)
        assert one.width_low == pytest.approx(more["width_half"], rel=1e-3)
        assert one.width_high == pytest.approx(less["width_half"], rel=1e-3)
        assert one.resolution_low < one.resolution_high


def test_a_retention_time_that_is_given_stays_whatever_the_porosity():
    """The band is as broad as its time and the plates say: the porosity takes no part in it."""
    times = tailrace.run(Scenario.from_text(TEXT)).recorded["mean"]
    lines = iter(times)
    text = re.sub(r"retention_factor = .*", lambda _: f'retention_time = "{next(lines)} s"', TEXT)
    found = assumptions_of(Scenario.from_text(text))
    assert not any("porosity" in one.taken and np.any(one.high > 1.001 * one.low) for one in found)
    assert any("porosity" in one.taken for one in assumptions_of(Scenario.from_text(TEXT)))


def test_a_range_whose_ends_read_alike_is_no_assumption_that_matters():
    joint = TEXT.replace('gap_length = "0.5 mm"', 'gap_length = "5 um"')
    assert joint != TEXT
    found = assumptions_of(Scenario.from_text(joint))
    assert all(np.any(one.high > 1.001 * one.low) for one in found)
    assert "column inlet connection" not in [one.subject for one in found]
