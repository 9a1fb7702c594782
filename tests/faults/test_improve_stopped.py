"""A study of changes that is stopped goes on where it was, and writes the same files."""

import os
from pathlib import Path

import pytest
from click.testing import CliRunner

from tailrace.cli import main
from tailrace.records.checkpoint import Checkpoint

SCENARIO = Path(__file__).parents[2] / "scenarios" / "decide" / "brewery-core-shell.toml"


def invoke(out, *options):
    return CliRunner().invoke(main, ["improve", str(SCENARIO), "--out", str(out), *options])


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    out = tmp_path_factory.mktemp("whole")
    done = invoke(out)
    assert done.exit_code == 0, done.stderr
    return {name: (out / name).read_bytes() for name in os.listdir(out)}


@pytest.fixture
def waiting(tmp_path, monkeypatch):
    """A folder in which a study was interrupted after its second block."""
    written = []
    write = Checkpoint.write

    def twice(self, batch, block, metrics):
        if len(written) == 2:
            raise KeyboardInterrupt
        written.append(block)
        write(self, batch, block, metrics)

    with monkeypatch.context() as patched:
        patched.setattr(Checkpoint, "write", twice)
        done = invoke(tmp_path)
    assert done.exit_code == 130
    assert "improvement.h5.parts keeps what is done; the same command goes on" in done.stderr
    assert os.listdir(tmp_path) == ["improvement.h5.parts"]
    return tmp_path


def test_it_goes_on_and_ends_the_same(waiting, whole, monkeypatch):
    stored, given = Checkpoint.stored, []

    def counted(self, batch):
        found = stored(self, batch)
        given.extend(one is not None for one in found)
        return found

    monkeypatch.setattr(Checkpoint, "stored", counted)
    done = invoke(waiting)
    assert done.exit_code == 0, done.stderr
    assert sum(given) == 2
    assert {name: (waiting / name).read_bytes() for name in os.listdir(waiting)} == whole


def test_another_scenario_is_refused(waiting, tmp_path):
    other = tmp_path / "other.toml"
    other.write_text(SCENARIO.read_text().replace("0.50 mL/min", "0.40 mL/min"))
    done = CliRunner().invoke(main, ["improve", str(other), "--out", str(waiting)])
    assert done.exit_code == 2
    assert "expected the scenario that this study was begun with" in done.stderr
