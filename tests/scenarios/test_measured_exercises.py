"""The exercises: made from their seeds, commands of their sheets work, their faults are found."""

import re
import shlex
from functools import cache

import numpy as np
import pytest
from reference.tree import ROOT

import tailrace
from tailrace.cli import main
from tailrace.scenario.scenario import Scenario
from tailrace.studies.measured.diagnosing import diagnose
from tailrace.studies.measured.diagnosis import NONE
from tailrace.studies.measured.practising import practice

FOLDER = ROOT / "scenarios" / "measured"
SEEDS = {"quiet-baseline": 12, "after-service": 8, "false-alarm": 11}


@cache
def made(name):
    return practice(tailrace.load(FOLDER / "instrument.toml"), SEEDS[name], name)


@pytest.mark.parametrize("name", SEEDS)
def test_the_files_are_what_practice_makes(name):
    assert (FOLDER / f"{name}.toml").read_text("utf-8") == made(name).text
    for file, content in made(name).files.items():
        # rounding of the simulation may change a last digit
        own, new = (
            np.loadtxt(one.splitlines(), delimiter=",", skiprows=1)
            for one in ((FOLDER / file).read_text("utf-8"), content.decode())
        )
        np.testing.assert_allclose(own, new, rtol=0, atol=1e-3)


@pytest.mark.parametrize("name", SEEDS)
def test_the_hidden_fault_is_found(name):
    """Of what was made; the files are the same."""
    exercise = made(name)
    study = diagnose(Scenario.from_text(exercise.text, files=exercise.files))
    assert (exercise.field.replace('"', "") or NONE) in {one.name for one in study.alike}
    assert (study.first.name == NONE) == (not exercise.field)


def test_they_are_said_to_be_invented_and_their_commands_can_be_read():
    index = (FOLDER / "README.md").read_text("utf-8")
    assert "The measurements are invented" in index
    for name, seed in SEEDS.items():
        sheet = (FOLDER / f"{name}.md").read_text("utf-8")
        assert "measurements are invented" in sheet
        assert f"({name}.md)" in index and f"{name} {seed}" in index
        assert f"## {name}" in (FOLDER / "answers.md").read_text("utf-8")
        (fence,) = re.findall(r"^```sh\n(.*?)^```", sheet, re.M | re.S)
        for line in fence.splitlines():
            _, command, *arguments = shlex.split(line)
            assert (ROOT / arguments[0]).is_file()
            main.get_command(None, command).make_context(command, arguments)
