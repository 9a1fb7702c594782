"""Times in minutes where the scenario has them so, in text and pages; in s in JSON."""

from types import SimpleNamespace

import numpy as np
import pytest

from tailrace.measures.registry import APEX, WIDTH
from tailrace.records.provenance import Provenance
from tailrace.records.record import as_record
from tailrace.records.trade import in_minutes, times_as_in, trade
from tailrace.report.improvement.tables import shown
from tailrace.report.measured.comparison import metrics_table
from tailrace.report.page import page
from tailrace.report.run import as_json, as_text
from tailrace.report.tables import recorded_table
from tailrace.studies.improving.result import Expectation

MINUTES = '[[solutes]]\nname = "a"\nretention_time = "2.9 min"\n'
SECONDS = '[[solutes]]\nname = "a"\nretention_time = "174 s"\n[[changes]]\neffort = "15 min"\n'


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        (MINUTES, True),
        (SECONDS, False),
        ('[[path]]\ndead_time = "0.52min"\n', True),
        ('[gradient]\nprogramme = [{ time = "0 min", strong = 0.1 }]\n', True),
        ('[[measured]]\nwindow = ["2.0 min", "2.6 min"]\n', True),
        ('[[measured]]\ntime_unit = "min"\n', True),
        ("", False),
        ("no TOML", False),
    ],
)
def test_what_counts_as_minutes(text, minutes):
    assert in_minutes(text) == minutes


def both(told):
    """What is told in s, and in minutes."""
    found = []
    for text in (SECONDS, MINUTES):
        with times_as_in(text):
            found.append(told())
    return found


def test_a_run_is_told_in_minutes_and_its_json_in_seconds(result):
    seconds, minutes = both(lambda: as_text(result, "t"))
    assert "half height, s" in seconds and "half height, s" not in minutes
    assert minutes.count("half height, min") == seconds.count("half height, s")
    (in_seconds,), (in_minutes,) = (
        [float(row[-1].split()[0]) for row in table.rows]
        for table in both(lambda: recorded_table(result))
    )
    assert in_minutes == pytest.approx(in_seconds / 60, rel=2e-3)
    one, other = both(lambda: as_json(result, "t", "", ""))
    assert one == other


def test_a_page_follows_the_scenario_that_its_record_holds(result):
    def made(text):
        origin = Provenance(title="t", scenario_sha256="", scenario=text, version="1")
        return page(as_record(result, origin))

    assert "half height, s<" in made(SECONDS)
    assert "half height, s<" not in made(MINUTES) and "half height, min<" in made(MINUTES)


def test_a_comparison_is_told_in_minutes():
    values = {APEX: 174.0, WIDTH: 3.0, "tailing_5": 1.2}
    errors = dict.fromkeys(values, 0.6)
    one = SimpleNamespace(
        name="m",
        solute="a",
        signal_unit="mAU",
        zeta=dict.fromkeys(values, 0.0),
        verdict=lambda name: "agrees",
        **dict.fromkeys(("measured", "predicted", "difference"), values),
        **dict.fromkeys(
            ("measured_uncertainty", "predicted_uncertainty", "joint_uncertainty"), errors
        ),
    )
    for table, unit, apex in zip(
        both(lambda: metrics_table(one)),
        ("s", "min"),
        ("174.0 ± 0.6", "2.900 ± 0.010"),
        strict=True,
    ):
        cells = {row[0]: row[1] for row in table.rows}
        assert cells[f"retention time, {unit}"] == apex
        assert [row[0] for row in table.rows][-1] == "tailing"


def test_what_a_step_should_show_is_told_in_minutes():
    expected = Expectation(
        step=1, of="a", metric=WIDTH, unit="s", value=3.0, low=2.4, high=3.6, error=0.001
    )
    seconds, minutes = both(lambda: shown(expected))
    assert seconds[1:] == ("3.00 s", "2.40 to 3.60 s")
    assert minutes[1:] == ("0.050 min", "0.040 to 0.060 min")


def test_a_tolerance_is_told_in_minutes_and_inputs_in_their_own_units():
    seconds, minutes = both(lambda: trade("duration", "s"))
    assert (seconds.unit, minutes.unit) == ("s", "min")
    assert minutes.of(np.array([90.0])) == pytest.approx(1.5)
    assert both(lambda: trade("response time", "s"))[1].unit != "min"
