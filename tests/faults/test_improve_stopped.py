"""A study of changes that is stopped goes on where it was, and writes the same files."""

import os
from pathlib import Path

import pytest
from click.testing import CliRunner

from tailrace.cli import main
from tailrace.records.checkpoint import Checkpoint

BREWERY = Path(__file__).parents[2] / "scenarios" / "decide" / "brewery-core-shell.toml"
CHANGES = 4
"""Of the brewery's eight: enough for several blocks, and soon done."""


@pytest.fixture(scope="module")
def scenario(tmp_path_factory):
    instrument, *changes = BREWERY.read_text(encoding="utf-8").split("[[changes]]")
    first, *_, last = instrument.split("[[solutes]]")
    instrument = "[[solutes]]".join([first, last])
    file = tmp_path_factory.mktemp("scenario") / "brewery.toml"
    text = "[[changes]]".join([instrument, *changes[:CHANGES]])
    file.write_text(text, encoding="utf-8")
    return file


def invoke(scenario, out, *options):
    return CliRunner().invoke(main, ["improve", str(scenario), "--out", str(out), *options])


@pytest.fixture(scope="module")
def whole(scenario, tmp_path_factory):
    out = tmp_path_factory.mktemp("whole")
    done = invoke(scenario, out)
    assert done.exit_code == 0, done.stderr
    return {name: (out / name).read_bytes() for name in os.listdir(out)}


@pytest.fixture
def waiting(scenario, tmp_path, monkeypatch):
    """A folder in which a study was interrupted after its first block."""
    written = []
    write = Checkpoint.write

    def once(self, batch, block, metrics):
        if written:
            raise KeyboardInterrupt
        written.append(block)
        write(self, batch, block, metrics)

    with monkeypatch.context() as patched:
        patched.setattr(Checkpoint, "write", once)
        done = invoke(scenario, tmp_path)
    assert done.exit_code == 130
    assert "improvement.h5.parts keeps what is done; the same command goes on" in done.stderr
    assert os.listdir(tmp_path) == ["improvement.h5.parts"]
    return tmp_path


def test_it_goes_on_and_ends_the_same(scenario, waiting, whole, monkeypatch):
    stored, given = Checkpoint.stored, []

    def counted(self, batch):
        found = stored(self, batch)
        given.extend(one is not None for one in found)
        return found

    monkeypatch.setattr(Checkpoint, "stored", counted)
    done = invoke(scenario, waiting)
    assert done.exit_code == 0, done.stderr
    assert sum(given) == 1
    assert {name: (waiting / name).read_bytes() for name in os.listdir(waiting)} == whole


def test_another_scenario_is_refused(scenario, waiting, tmp_path):
    other = tmp_path / "other.toml"
    other.write_text(scenario.read_text().replace("0.50 mL/min", "0.40 mL/min"))
    done = CliRunner().invoke(main, ["improve", str(other), "--out", str(waiting)])
    assert done.exit_code == 2
    assert "expected the scenario that this study was begun with" in done.stderr
