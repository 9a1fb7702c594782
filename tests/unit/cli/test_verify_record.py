"""``tailrace verify RECORD.h5``: a record comes out again from what it holds, bit for bit."""

import h5py
import pytest
from click.testing import CliRunner

from tailrace.cli.main import main
from tailrace.records.seal import write_seal

SCENARIO = """
[method]
flow = "0.5 mL/min"
viscosity = "1 mPa*s"
[[solutes]]
name = "a"
diffusivity = "1e-9 m^2/s"
[injection]
shape = "signal"
file = "inlet.csv"
[[path]]
name = "tube"
part = "tube"
bore = "0.12 mm"
length = "100 mm"
[[changes]]
name = "shorter"
cost = 10
effort = "1 h"
set = { tube = { length = "50 mm" } }
[[accept]]
measure = "tailing"
at_most = 10
[[uncertain]]
field = "tube.bore"
distribution = "uniform"
half_width = "0.006 mm"
"""
COMMANDS = {
    "run": ([], "record.h5"),
    "sweep": (["--vary", "tube.length = 50, 100 mm"], ""),
    "improve": (["--stop", "1%"], "improvement.h5"),
    "tolerance": (["--samples", "20", "--widen", "all"], ""),
}


def call(*arguments):
    return CliRunner().invoke(main, [str(one) for one in arguments], catch_exceptions=False)


@pytest.fixture
def record(tmp_path, request):
    command = request.param
    options, name = COMMANDS[command]
    asked = tmp_path / "asked"
    asked.mkdir()
    scenario = asked / "my tube.toml"
    scenario.write_text(SCENARIO)
    (asked / "inlet.csv").write_text("0, 0\n0.1, 1\n0.2, 3\n0.3, 2\n0.4, 0\n")
    out = tmp_path / ("made" if name else "made.h5")
    result = call(command, scenario, "--out", out, *options)
    assert result.exit_code in (0, 1), result.output
    for file in asked.iterdir():
        file.unlink()
    return out / name if name else out


@pytest.mark.parametrize("record", list(COMMANDS), indirect=True)
def test_a_record_comes_out_again_without_the_files_that_it_was_made_from(record):
    again = call("verify", record)
    assert again.exit_code == 0, again.output
    assert "bit for bit" in again.output


@pytest.mark.parametrize("record", ["run"], indirect=True)
def test_a_number_that_does_not_come_out_again_is_named(record):
    with h5py.File(record, "a") as file:
        file["recorded/variance"][...] *= 1 + 1e-15
    assert call("verify", record).exit_code == 2
    write_seal(record)
    again = call("verify", record)
    assert again.exit_code == 1
    assert "/recorded/variance" in again.output


@pytest.mark.parametrize("record", ["run"], indirect=True)
def test_an_accuracy_makes_no_sense_for_a_record(record):
    assert call("verify", record, "--accuracy", "1e-3").exit_code == 2
