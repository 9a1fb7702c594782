"""A command for each kind of record, and what it is asked about: each takes seconds."""

import shutil
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from reference.measured import SMALL, measured_scenario
from tailrace.cli.main import main
from tailrace.records.kinds import KINDS
from tailrace.studies.measured.inventing import Invention

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
[[uncertain]]
field = "tube.length"
distribution = "normal"
relative = 0.02
kind = "knowledge"
[[reading]]
measure = "tailing"
standard_deviation = 0.01
"""
ROW = '[[measured]]\nname = "{0}"\nfile = "{0}.csv"\nwithout = ["column"]\n'
MEASURED = f"""{SMALL.replace('title = "Tube and cell"', "")}
[[changes]]
name = "small cell"
set = {{ "flow cell" = {{ volume = "1 uL" }} }}
[[changes]]
name = "other bore"
set = {{ tube = {{ bore = "0.1 mm" }} }}
[[uncertain]]
field = "tube.bore"
distribution = "uniform"
relative = 0.06
{ROW.format("start")}{ROW.format("behind")}changes = ["small cell"]
"""
MAP = "tube.bore × tube.length"
COMMANDS = {
    "run": ([], "tailrace record"),
    "sweep": (["--vary", "tube.length = 50, 100 mm"], "tailrace sweep"),
    "improve": (["--stop", "1%"], "tailrace improvement"),
    "tolerance": (
        ["--samples", "100", "--widen", "all", "--indices", "--rows", "16", "--map", MAP],
        "tailrace tolerance",
    ),
    "measure": (["--blank", "blank.csv"], "tailrace measurement"),
    "compare": ([], "tailrace comparison"),
    "fit": (["--free", "tube.bore"], "tailrace fit"),
    "diagnose": ([], "tailrace diagnosis"),
    "protocol": ([], "tailrace measurement plan"),
    "improve --measured": ([], "tailrace steps"),
}
OF_SIGNALS = [*COMMANDS][4:]
SHIPPED = Path(__file__).parents[2] / "scenarios"
LARGER = {
    "run": ("inherited-core-shell.toml", []),
    "sweep": (
        "gradient-core-shell.toml",
        ["--vary", "column.plates = 9000, 12000", "--vary", "detector.time_constant = 0.05, 0.2 s"],
    ),
    "improve": ("decide/signal-forbids-smallest-cell.toml", []),
    "tolerance": ("tolerance/series-and-lamp.toml", ["--samples", "200"]),
    "measure": ("measured/after-service-flow-1.csv", []),
    "compare": ("measured/after-service.toml", []),
    "fit": ("measured/after-service.toml", ["--free", "joint before.gap_length"]),
    "diagnose": ("measured/after-service.toml", []),
    "protocol": ("measured/instrument.toml", []),
    "improve --measured": ("decide/signal-forbids-smallest-cell.toml", []),
}
"""Of each command a scenario that is shipped; of steps, with signals invented here."""


def call(*arguments):
    return CliRunner().invoke(main, [str(one) for one in arguments], catch_exceptions=False)


def written(folder, command):
    """The scenario that a command is asked about, or the file, in a folder."""
    scenario = folder / "my tube.toml"
    if command not in OF_SIGNALS:
        scenario.write_text(SCENARIO)
        (folder / "inlet.csv").write_text("0, 0\n0.1, 1\n0.2, 3\n0.3, 2\n0.4, 0\n")
        return scenario
    scenario.write_text(MEASURED)
    made = measured_scenario(MEASURED, Invention(interval=0.05, signal_to_noise=500), 5)
    for name, content in made.files.contents().items():
        (folder / name).write_bytes(content)
    lines = (folder / "start.csv").read_text().splitlines()
    blank = "\n".join(f"{line.split(',')[0]},{k % 2}e-9" for k, line in enumerate(lines))
    (folder / "blank.csv").write_text(blank)
    return folder / "start.csv" if command == "measure" else scenario


def copied(folder, command):
    """The shipped scenario that a command is asked about, or the file, in a folder."""
    source = SHIPPED / LARGER[command][0]
    for one in source.parent.glob("*.[ct][so][vm]*"):
        shutil.copy(one, folder)
    if command != "improve --measured":
        return folder / source.name
    text = source.read_text("utf-8").split("[page]")[0]
    steps = [row["name"] for row in tomllib.loads(text)["changes"]]
    solute = tomllib.loads(text)["solutes"][0]["name"]
    row = ROW.replace('without = ["column"]', f'solute = "{solute}"')
    text += row.format("start") + row.format("behind") + f"changes = {steps[:1]}\n"
    made = measured_scenario(text, Invention(interval=0.02, signal_to_noise=300), 7)
    for name, content in made.files.contents().items():
        (folder / name).write_bytes(content)
    (folder / "steps.toml").write_text(text, "utf-8")
    return folder / "steps.toml"


def made(folder, command, larger=False):
    """The record of a command, made on one thread; what it was made from is gone; ``larger``: of
    what is shipped."""
    options, kind = COMMANDS[command]
    options = LARGER[command][1] if larger else options
    asked = folder / "asked"
    asked.mkdir()
    source = (copied if larger else written)(asked, command)
    file = KINDS[kind].file
    out = folder / ("made" if file else "made.h5")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(asked)
        patch.setenv("NUMBA_NUM_THREADS", "1")
        result = call(*command.split(), source, "--out", out, *options)
    assert result.exit_code in (0, 1), result.output
    for one in asked.iterdir():
        one.unlink()
    return out / file
