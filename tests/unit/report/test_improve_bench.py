"""What the bench reads of a study of changes: bands, where the best set ends, free changes."""

import csv
import math
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

import tailrace
from tailrace.cli import main
from tailrace.report.improvement.printed import as_text
from tailrace.report.improvement.sentences import order_line
from tailrace.report.improvement.tables import NO_BAND, expected_table, shown
from tailrace.scenario.scenario import Scenario

SHIPPED = Path(__file__).parents[3] / "scenarios"
UNION = """
[method]
flow = "0.3 mL/min"
eluent = { water = 0.5, acetonitrile = 0.5 }
[[solutes]]
name = "one"
diffusivity = "1.1e-9 m^2/s"
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "tube"
part = "tube"
bore = "0.25 mm"
length = "300 mm"
[[path]]
name = "flow cell"
part = "cell"
volume = "2 uL"
tanks = 1
[detector]
time_constant = "0.4 s"
[[changes]]
name = "small cell"
cost = 900
set = { "flow cell" = { volume = "1 uL" } }
[[changes]]
name = "faster detector"
set = { detector = { time_constant = "0.213 s" } }
"""
UNSURE = """
[[uncertain]]
field = "flow cell.volume"
distribution = "normal"
relative = 0.05
"""


def test_without_stated_uncertainty_no_band_is_given(tmp_path):
    made = tailrace.improve(Scenario.from_text(UNION))
    assert {row[-1] for row in expected_table(made).rows} == {NO_BAND}
    assert "No acceptance band can be given" in as_text(made, "", expect=True)
    path, out = tmp_path / "union.toml", tmp_path / "e.csv"
    path.write_text(UNION)
    assert CliRunner().invoke(main, ["improve", str(path), "--expect", str(out)]).exit_code == 0
    rows = list(csv.DictReader(out.read_text().splitlines()))
    # The command asks for typical tolerances, which are said to be so: what they move has a band.
    banded = [row for row in rows if row["low"]]
    assert banded
    assert all(float(one["low"]) < float(one["value"]) < float(one["high"]) for one in banded)
    assert float(rows[1]["error"]) > 0


def test_digits_follow_the_larger_uncertainty():
    made = tailrace.improve(Scenario.from_text(UNION + UNSURE))
    row = next(one for one in made.expected.rows if one.metric == "width_half")
    told = shown(row)[1].removesuffix(" s").partition(".")[2]
    band = max(row.high - row.value, row.value - row.low)
    assert band > 3 * row.error
    assert len(told) == 1 - math.floor(math.log10(band))  # two digits of it
    coarse = replace(row, error=0.3)
    assert len(shown(coarse)[1].removesuffix(" s").partition(".")[2]) == 2


def test_what_cannot_be_kept_ends_with_1_and_the_verdict_says_where_the_best_ends(tmp_path):
    path = tmp_path / "signal.toml"
    path.write_text((SHIPPED / "decide" / "signal-forbids-smallest-cell.toml").read_text())
    done = CliRunner().invoke(main, ["improve", str(path), "--signal-to-noise", "5"])
    assert done.exit_code == 1
    assert "it ends at 0.28 of the start's signal to noise and 195 bar" in " ".join(
        done.stdout.split()
    )
    done = CliRunner().invoke(main, ["improve", str(path), "--signal-to-noise", "0.7"])
    assert done.exit_code == 0
    assert "it ends at 0.81 of the start's signal to noise" in " ".join(done.stdout.split())


def test_what_costs_nothing_is_offered_first_where_the_order_hardly_matters():
    made = tailrace.improve(Scenario.from_text(UNION))
    assert [one.change for one in made.steps[1:]] == ["small cell", "faster detector"]
    # (0.4 s)^2 - (0.213 s)^2 times the square of 5 nL/s: 2.87 uL^2, beside 3.00 of the cell
    assert [1e18 * one.alone for one in made.changes] == pytest.approx([3.0, 2.866], rel=1e-3)
    assert made.free_first == ("faster detector", "small cell")
    assert "may come first" in order_line(made)
    slower = tailrace.improve(Scenario.from_text(UNION.replace("0.213 s", "0.3 s")))
    assert slower.free_first == ()
