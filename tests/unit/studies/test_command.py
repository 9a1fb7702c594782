"""The command ``sweep``: what it prints, what it writes, and how it ends."""

import json
import os

import pytest
import xarray
from click.testing import CliRunner

from tailrace.cli import main
from tailrace.errors import BudgetError
from tailrace.journey import travel
from tailrace.studies import batch

LENGTHS = ("--vary", "inlet tube.length = 50, 200 mm")
FLOWS = ("--vary", "method.flow = 0.3, 0.6 mL/min")


def invoke(*arguments):
    return CliRunner().invoke(main, ["sweep", *map(str, arguments)])


def test_json_holds_for_each_case_what_run_says(path, tmp_path, text):
    done = invoke(path, *LENGTHS, "--json")
    assert done.exit_code == 0
    assert done.stderr == ""
    answer = json.loads(done.stdout)
    assert answer["axes"] == [{"name": "inlet tube.length", "unit": "m", "values": [0.05, 0.2]}]
    assert [case["at"] for case in answer["cases"]] == [
        {"inlet tube.length": 0.05},
        {"inlet tube.length": 0.2},
    ]
    by_hand = tmp_path / "by_hand.toml"
    by_hand.write_text(text.replace('length = "100 mm"', 'length = "200 mm"'))
    single = json.loads(CliRunner().invoke(main, ["run", str(by_hand), "--json"]).stdout)
    case = answer["cases"][1]
    assert case["pressure"]["total"] == pytest.approx(single["pressure"]["total"], rel=1e-12)
    assert case["pressure"]["parts"] == pytest.approx(single["pressure"]["parts"], rel=1e-12)
    assert case["warnings"] == single["warnings"]
    for mine, other in zip(case["solutes"], single["solutes"], strict=True):
        assert mine.keys() == other.keys()
        for name, error in other["numerical_error"].items():
            if error is None:
                assert mine["numerical_error"][name] is None, name
                continue
            allowed = error + mine["numerical_error"][name]
            assert abs(mine["recorded"][name] - other["recorded"][name]) <= allowed, name
    (mine,), (other,) = case["resolution"], single["resolution"]
    assert mine.keys() == other.keys()
    allowed = mine["numerical_error"] + other["numerical_error"]
    assert abs(mine["half_height"] - other["half_height"]) <= allowed
    assert mine["peak_to_valley"] == other["peak_to_valley"] == 1000  # far apart


def test_few_cases_are_a_table(path):
    done = invoke(path, *LENGTHS)
    lines = done.stdout.splitlines()
    assert lines[0] == "A short path"
    assert lines[2] == "2 cases: inlet tube: length (2)"
    assert lines[5].split("  ")[0] == "inlet tube: length"
    assert [name in lines[5] for name in ("plates at own retention", "tailing")] == [True, True]
    assert "Neighbours" in lines and "peak-to-valley ratio" in done.stdout
    assert [line.split("  ")[0] for line in lines[8:12]] == ["50 mm"] * 2 + ["200 mm"] * 2
    assert "\x1b" not in done.stdout


def test_many_cases_are_told_by_their_extremes(path):
    done = invoke(path, "--vary", "inlet tube.length = 50 .. 100 mm, 21 points")
    least, greatest = (
        line.split()
        for line in done.stdout.splitlines()
        if line.split()[:2] == ["early", "variance"]
    )
    # A longer tube can only add variance.
    assert least[-2:] == ["50", "mm"]
    assert greatest[-2:] == ["100", "mm"]


def test_two_numbers_are_drawn_as_well(path, tmp_path):
    out = tmp_path / "swept.h5"
    done = invoke(path, *LENGTHS, *FLOWS, "--out", out)
    assert done.exit_code == 0, done.stderr
    names = {"swept.h5", "swept.svg", "swept.png"}
    assert {name for name in os.listdir(tmp_path) if name.startswith("swept")} == names
    assert set(done.stderr.splitlines()) == {f"wrote {tmp_path / name}" for name in names}
    with xarray.open_dataset(out) as stored:
        assert stored.sizes["inlet_tube.length"] == 2
        assert stored.attrs["scenario"] == path.read_text()


def test_in_step_nothing_is_drawn(path, tmp_path):
    out = tmp_path / "swept.h5"
    done = invoke(path, *LENGTHS, *FLOWS, "--together", "--out", out)
    assert done.stdout.splitlines()[2] == "2 cases: inlet tube: length (2) = method: flow (2)"
    assert done.stderr == f"wrote {out}\n"


def test_a_case_that_cannot_be_computed_ends_with_3(path, tmp_path, monkeypatch):
    def picky(itinerary):
        if max(itinerary.passages[1][0].length) > 0.1:
            raise BudgetError("too long")
        return travel(itinerary)

    monkeypatch.setattr(batch, "travel", picky)
    out = tmp_path / "swept.h5"
    done = invoke(path, *LENGTHS, "--out", out, "--json")
    assert done.exit_code == 3
    assert [case["computed"] for case in json.loads(done.stdout)["cases"]] == [True, False]
    assert out.exists()
    assert "1 of 2 cases could not be computed" in done.stderr
    assert "inlet tube.length = 200 mm: not computed: too long" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "phrase"),
    [
        (("--vary", "inlet tube.lenght = 1 mm"), 'write "length"'),
        (("--vary", "inlet tube.length = 1 s"), "not a unit of length"),
        (("--vary", "cell.tanks = 0.5"), "at cell.tanks = 0.5: path[2].tanks: expected"),
        ((*LENGTHS, "--vary", "cell.tanks = 2", "--together"), "even them out"),
        ((), "--vary"),
    ],
)
def test_a_slip_ends_with_2_and_one_sentence(path, arguments, phrase):
    done = invoke(path, *arguments)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert phrase in done.stderr
    assert "Traceback" not in done.stderr


def test_a_file_that_cannot_be_written_is_told_at_once(path, monkeypatch):
    def never(_):
        raise AssertionError("computed before the file was checked")

    monkeypatch.setattr(batch, "travel", never)
    done = invoke(path, *LENGTHS, "--out", path / "swept.h5")
    assert done.exit_code == 2
    assert done.stderr.count("\n") == 1
    assert "in a folder that is there" in done.stderr


@pytest.mark.parametrize(("name", "phrase"), [("swept", "ends in .h5"), ("dir.h5", "a folder")])
def test_a_name_that_cannot_be_a_sweep(path, tmp_path, name, phrase):
    (tmp_path / "dir.h5").mkdir()
    done = invoke(path, *LENGTHS, "--out", tmp_path / name)
    assert done.exit_code == 2
    assert phrase in done.stderr
    assert done.stderr.count("\n") == 1
