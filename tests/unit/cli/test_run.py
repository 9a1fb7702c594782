"""The command ``run``: what it prints, what it writes, and how it ends."""

import json
import os
import subprocess
import sys

import pytest
import xarray
from click.testing import CliRunner

from tailrace.cli import main
from tailrace.errors import AccuracyError

SCENARIO = """
title = "A cell behind a short tube"

[method]
flow = "0.60 mL/min"
temperature = "35 degC"
eluent = { viscosity = "0.5 mPa*s" }

[[solutes]]
name = "tracer"
diffusivity = "1.1e-9 m^2/s"

[injection]
shape = "plug"
volume = "2 uL"

[[path]]
name = "inlet"
part = "tube"
bore = "0.17 mm"
length = "100 mm"

[[path]]
name = "flow cell"
part = "cell"
volume = "5 uL"

[detector]
time_constant = "0.1 s"
interval = "50 ms"
"""
FILES = {"record.h5", "report.html", "recorded.csv", "bands.csv"}
FILES |= {f"{n}.{e}" for n in ("stages", "sources", "peaks") for e in ("svg", "png")}


@pytest.fixture
def scenario(tmp_path):
    path = tmp_path / "scenario.toml"
    path.write_text(SCENARIO)
    return str(path)


def invoke(*arguments):
    return CliRunner().invoke(main, ["run", *map(str, arguments)])


def in_process(code, *arguments):
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, arguments)], capture_output=True, text=True
    )


def but_times(text):
    """Lines but for what a run takes, which is said where its kernels are not compiled yet."""
    return [line for line in text.splitlines() if not line.startswith("This run takes about ")]


def test_json_is_alone_on_standard_output(scenario):
    done = invoke(scenario, "--json")
    assert done.exit_code == 0
    assert not but_times(done.stderr)
    answer = json.loads(done.stdout)
    assert answer["title"] == "A cell behind a short tube"
    assert [part["name"] for part in answer["solutes"][0]["parts"]][1:3] == ["inlet", "flow cell"]
    # One stirred tank adds the square of its residence, 5 uL over 0.6 mL/min: 0.5 s
    # (Levenspiel, Chemical Reaction Engineering, 3rd ed., chapter 14; from memory).
    assert answer["solutes"][0]["parts"][2]["variance"]["simulated"] == pytest.approx(
        0.25, rel=1e-3
    )


def test_json_alone_loads_neither_pictures_nor_records(scenario):
    code = (
        "import sys; from tailrace.cli import main\n"
        "main(['run', sys.argv[1], '--json'], standalone_mode=False)\n"
        "print([n for n in ('matplotlib', 'xarray', 'h5py', 'rich') if n in sys.modules],"
        " file=sys.stderr)"
    )
    done = in_process(code, scenario)
    assert done.returncode == 0, done.stderr
    # before it, on a slow machine, how long it takes
    assert done.stderr.splitlines()[-1] == "[]"
    json.loads(done.stdout)


def test_the_table_is_plain_where_nobody_looks(scenario):
    done = invoke(scenario)
    assert done.exit_code == 0
    assert not but_times(done.stderr)
    assert done.stdout.startswith("A cell behind a short tube\n")
    assert "\x1b" not in done.stdout
    assert "The path has no column" in done.stdout


def test_out_makes_the_folder_and_says_what_it_wrote(scenario, tmp_path):
    folder = tmp_path / "new" / "folder"
    done = invoke(scenario, "--out", folder, "--json")
    assert done.exit_code == 0
    json.loads(done.stdout)
    assert set(os.listdir(folder)) == FILES
    assert set(done.stderr.splitlines()) == {f"wrote {folder / n}" for n in FILES}
    with xarray.open_datatree(folder / "record.h5") as record:
        assert record.attrs["scenario"] == SCENARIO


def test_two_runs_in_two_processes_write_the_same_files(scenario, tmp_path):
    code = "import sys; from tailrace.cli import main; main(sys.argv[1:])"
    for name in ("one", "other"):
        done = in_process(code, "run", scenario, "--out", tmp_path / name)
        assert done.returncode == 0, done.stderr
    for name in FILES:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "other" / name).read_bytes()


def test_a_folder_that_cannot_be_is_told_before_anything_is_computed(scenario, monkeypatch):
    def travel(*_):
        raise AssertionError("computed before the folder was checked")

    monkeypatch.setattr("tailrace.journey.travelling.travel", travel)
    done = invoke(scenario, "--out", scenario)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert done.stderr.startswith(f"--out {scenario}: expected a ")


def test_a_file_that_cannot_be_replaced(scenario, tmp_path):
    (tmp_path / "out" / "peaks.svg").mkdir(parents=True)
    done = invoke(scenario, "--out", tmp_path / "out")
    assert done.exit_code == 2
    assert done.stderr.count("\n") == 1
    assert "that can be written" in done.stderr
    assert not [name for name in os.listdir(tmp_path / "out") if name.startswith(".")]


def test_a_wrong_scenario_ends_with_2(tmp_path):
    done = invoke(tmp_path / "missing.toml", "--json")
    assert done.exit_code == 2
    assert done.stdout == ""
    assert "missing.toml" in done.stderr


def test_an_accuracy_that_is_not_reached_ends_with_3(scenario, monkeypatch):
    def travel(*_, **__):
        raise AccuracyError("the tube did not settle; lower the refinement")

    monkeypatch.setattr("tailrace.journey.travelling.travel", travel)
    done = invoke(scenario)
    assert done.exit_code == 3
    assert done.stdout == ""
    assert done.stderr == "the tube did not settle; lower the refinement\n"


def test_a_scenario_that_changes_under_way_is_stored_as_it_was_read(
    scenario, tmp_path, monkeypatch
):
    import tailrace
    from tailrace.scenario.scenario import Scenario

    whole = Scenario.load

    def load(path):
        loaded = whole(path)
        loaded.path.write_text(SCENARIO.replace("5 uL", "6 uL"))
        return loaded

    monkeypatch.setattr(Scenario, "load", load)
    assert invoke(scenario, "--out", tmp_path / "out").exit_code == 0
    assert tailrace.read(tmp_path / "out" / "record.h5").source.scenario == SCENARIO
