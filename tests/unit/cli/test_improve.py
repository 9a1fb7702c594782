"""The command ``improve``: options, what it prints and writes."""

import csv
import json
import os
import shutil

import h5py
import pytest
from click.testing import CliRunner
from reference.improvements import NAMES, SCENARIO

from tailrace.cli import main

# The method needs its temperature controlled: one of the four changes is not allowed.
TEXT = SCENARIO.replace("[[solutes]]", "needs_temperature_control = true\n[[solutes]]", 1).replace(
    'name = "column heater"\npart = "tube"', 'name = "column heater"\npart = "tube"\nheater = true'
)
FILES = {
    "improvement.h5",
    "report.html",
    "worksheet.html",
    "expected.csv",
    "measured.toml",
    *(f"{name}.{ending}" for name in ("steps", "frontiers", "peaks") for ending in ("svg", "png")),
}


@pytest.fixture(scope="module")
def scenario(tmp_path_factory):
    path = tmp_path_factory.mktemp("improve") / "made-up.toml"
    path.write_text(TEXT)
    return path


def invoke(*words):
    return CliRunner().invoke(main, ["improve", *map(str, words)])


@pytest.fixture(scope="module")
def written(scenario, tmp_path_factory):
    out = tmp_path_factory.mktemp("out") / "new"
    done = invoke(scenario, "--json", "--out", out)
    assert done.exit_code == 0, done.stderr
    return json.loads(done.stdout), out, done


def test_it_writes_all_its_files(written):
    _, out, done = written
    assert set(os.listdir(out)) == FILES
    assert set(done.stderr.splitlines()) == {f"wrote {out / name}" for name in FILES}


def test_the_json_is_whole(written):
    answer, _, _ = written
    assert [one["name"] for one in answer["changes"]] == list(NAMES)
    assert "temperature" in answer["changes"][3]["forbidden"]
    assert len(answer["combinations"]) == 8
    shares = [one["share"] for one in answer["changes"] if one["share"] is not None]
    whole = answer["combinations"][answer["whole"]]["figure"] - answer["start"]
    assert sum(shares) == pytest.approx(whole, abs=1e-9 * whole)
    assert answer["expected"]["rows"]


def test_the_expected_figures_are_those_of_the_steps(written):
    answer, out, _ = written
    with (out / "expected.csv").open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    plates = {
        int(one["step"]): float(one["value"])
        for one in rows
        if one["figure"] == "plates_at_own_retention"
    }
    assert plates == {one["number"]: one["figure"] for one in answer["steps"]}


def test_a_second_run_writes_the_same_bytes(scenario, written, tmp_path):
    _, out, _ = written
    assert invoke(scenario, "--out", tmp_path).exit_code == 0
    for name in FILES:
        assert (tmp_path / name).read_bytes() == (out / name).read_bytes(), name


def report(*words):
    return CliRunner().invoke(main, ["report", *map(str, words)])


def test_the_report_is_made_again_from_the_record_alone(written, tmp_path):
    _, out, _ = written
    moved = tmp_path / "moved.h5"
    shutil.copy(out / "improvement.h5", moved)
    done = report(moved)
    assert done.exit_code == 0, done.stderr
    assert moved.with_suffix(".html").read_bytes() == (out / "report.html").read_bytes()


def test_a_damaged_record_is_refused_in_one_sentence(written, tmp_path):
    damaged = tmp_path / "damaged.h5"
    shutil.copy(written[1] / "improvement.h5", damaged)
    with h5py.File(damaged, "a") as stored:
        del stored["changes/share"]
    done = report(damaged)
    assert done.exit_code == 2
    assert len(done.stderr.splitlines()) == 1
    assert f"{damaged}: expected a record as it was written" in done.stderr
    assert not damaged.with_suffix(".html").exists()


def test_both_solvers_are_compared_on_the_first_and_the_last(scenario, written, tmp_path):
    done = invoke(scenario, "--cross-check", "--out", tmp_path / "checked")
    assert done.exit_code == 0, done.stderr
    page = (tmp_path / "checked" / "report.html").read_text()
    assert page.count("The two solvers agree") == 2
    assert "The two solvers agree" not in (written[1] / "report.html").read_text()


def test_a_cross_check_needs_a_folder(scenario):
    done = invoke(scenario, "--cross-check")
    assert done.exit_code == 2
    assert "--cross-check: expected --out beside it, found none" in done.stderr


def test_the_text_says_what_to_do(scenario):
    done = invoke(scenario)
    assert done.exit_code == 0, done.stderr
    assert done.stderr == ""
    for name in NAMES:
        assert name in done.stdout
    assert "What a measurement should show" not in done.stdout


def test_expect_is_printed_and_written(scenario, tmp_path):
    done = invoke(scenario, "--expect")
    assert "What a measurement should show" in done.stdout
    assert invoke(scenario, "--expect", tmp_path / "e.csv").exit_code == 0
    done = invoke(scenario, "--json", "--expect", tmp_path / "e.json")
    stored = json.loads((tmp_path / "e.json").read_text())
    assert stored["rows"] == json.loads(done.stdout)["expected"]["rows"]
    with (tmp_path / "e.csv").open(newline="") as stream:
        assert len(list(csv.DictReader(stream))) == len(stored["rows"])


def test_a_budget_is_kept_to(scenario):
    answer = json.loads(invoke(scenario, "--json", "--budget", "100").stdout)
    best = answer["combinations"][answer["best"]]
    assert best["cost"] <= 100
    assert "small flow cell" not in best["changes"]
    assert answer["changes"][0]["left_out"]


@pytest.mark.parametrize("aim", ["resolution", "tailing", "signal"])
def test_other_aims(scenario, tmp_path, aim):
    two = tmp_path / "two.toml"
    second = '[[solutes]]\nname = "humulone"\nretention_factor = 2.6\ndiffusivity = "1e-9 m^2/s"\n'
    two.write_text(TEXT.replace("[injection]", second + "[injection]"))
    done = invoke(two, "--json", "--aim", aim)
    assert done.exit_code == 0, done.stderr
    answer = json.loads(done.stdout)
    assert answer["aim"]["key"] == aim
    assert answer["steps"][0]["figure"] == answer["start"]
    if aim == "resolution":
        pair = json.loads(
            invoke(two, "--json", "--aim", aim, "--pair", "cohumulone/humulone").stdout
        )
        assert pair["start"] == answer["start"]


def test_the_order_can_look_at_the_money(scenario):
    answer = json.loads(invoke(scenario, "--json", "--order", "money").stdout)
    assert answer["order"] == "money"
    costs = [one["cost"] for one in answer["steps"][1:]]
    # One change costs nothing: for the money nothing can come before it.
    assert costs[0] == 0
