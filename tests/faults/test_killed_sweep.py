"""A sweep that is killed or interrupted goes on where it was, and its file is the same."""

import json
import os
import signal
import subprocess
import sys
import time

import pytest
from click.testing import CliRunner
from reference.scenario_texts import TUBE

from tailrace.cli import main
from tailrace.journey import travel
from tailrace.studies import batch

CASES = 160
VARY = ("--vary", f"tube.length = 100 .. 600 mm, {CASES} points")
MARCH = ("--engine", "march")
"""Products would be done before they can be stopped."""
COMMAND = """
import signal, sys, time
from tailrace.cli import main
from tailrace.studies import batch

def slowly(itinerary, travel=batch.travel):
    time.sleep(0.05)
    return travel(itinerary)

batch.travel = slowly
# a shell's background job ignores interrupts, and so would its children
signal.signal(signal.SIGINT, signal.default_int_handler)
main(sys.argv[1:])
"""
"""The command as it is, but slow enough to be stopped in the middle on any machine."""


@pytest.fixture
def scenario(tmp_path):
    file = tmp_path / "tube.toml"
    file.write_text(TUBE)
    return file


@pytest.fixture
def whole(scenario, tmp_path, monkeypatch):
    """Bytes of the file of a sweep that nothing stopped, made on one thread."""
    monkeypatch.setenv("NUMBA_NUM_THREADS", "1")
    out = tmp_path / "whole.h5"
    assert invoke(scenario, out).exit_code == 0
    monkeypatch.delenv("NUMBA_NUM_THREADS")
    assert not out.with_name("whole.h5.parts").exists()
    return out.read_bytes()


def invoke(scenario, out, *vary):
    return CliRunner().invoke(
        main, ["sweep", str(scenario), *(vary or VARY), *MARCH, "--out", str(out)]
    )


def stopped(scenario, out, how):
    """Start a sweep, stop it once some blocks are kept, return how it ended."""
    arguments = [sys.executable, "-c", COMMAND, "sweep", scenario, *VARY, *MARCH, "--out", out]
    process = subprocess.Popen(
        list(map(str, arguments)),
        env=os.environ | {"NUMBA_NUM_THREADS": "2"},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    until = time.monotonic() + 60
    while len(blocks(out)) < 3 and process.poll() is None and time.monotonic() < until:
        time.sleep(0.002)
    process.send_signal(how)
    _, reported = process.communicate(timeout=60)
    assert not out.exists(), "the sweep was over before it was stopped"
    assert 3 <= len(blocks(out)) < CASES // 8
    return process.returncode, reported


def blocks(out):
    return sorted(out.with_name(f"{out.name}.parts").glob("block-*.npz"))


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT], ids=["killed", "interrupted"])
def test_a_stopped_sweep_goes_on_and_ends_the_same(scenario, whole, tmp_path, monkeypatch, how):
    out = tmp_path / "stopped.h5"
    code, reported = stopped(scenario, out, how)
    if how == signal.SIGINT:
        assert code == 130
        assert "stopped.h5.parts keeps what is done; the same command goes on" in reported
        assert "Traceback" not in reported
    else:
        assert code == -signal.SIGKILL
    kept, travelled = len(blocks(out)), []

    def counted(itinerary):
        travelled.append(len(itinerary.lanes))
        return travel(itinerary)

    monkeypatch.setattr(batch, "travel", counted)
    done = invoke(scenario, out)
    assert done.exit_code == 0, done.stderr
    assert sum(travelled) == CASES - 8 * kept
    assert out.read_bytes() == whole
    assert not out.with_name("stopped.h5.parts").exists()


@pytest.fixture
def waiting(scenario, tmp_path, monkeypatch):
    """A sweep of a few cases that stopped after its first block; its file."""
    out = tmp_path / "waiting.h5"

    result = []

    def once(itinerary):
        if result:
            # the first block is kept by another thread, which may be slower than this one
            while not blocks(out):
                time.sleep(0.01)
            raise KeyboardInterrupt
        result.append(itinerary)
        return travel(itinerary)

    with monkeypatch.context() as patched:
        patched.setattr(batch, "travel", once)
        patched.setenv("NUMBA_NUM_THREADS", "1")
        assert invoke(scenario, out, *FEW).exit_code == 130
    assert blocks(out)
    return out


FEW = ("--vary", "tube.length = 100 .. 600 mm, 24 points")


def refused(scenario, out, *vary):
    done = invoke(scenario, out, *(vary or FEW))
    assert done.exit_code == 2, done.output
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert blocks(out), "what was done must stay"
    return done.stderr


def test_a_changed_scenario_is_refused(scenario, waiting):
    scenario.write_text(TUBE.replace("0.2 s", "0.3 s"))
    reported = refused(scenario, waiting)
    assert "waiting.h5.parts: expected the scenario that this study was begun with" in reported
    assert "go back to it, name another file, or delete the folder" in reported
    scenario.write_text(TUBE)
    assert invoke(scenario, waiting, *FEW).exit_code == 0


def test_changed_values_are_refused(scenario, waiting):
    reported = refused(scenario, waiting, "--vary", "tube.length = 100 .. 600 mm, 25 points")
    assert "expected the fields and values that" in reported


def test_other_code_is_refused(scenario, waiting):
    manifest = waiting.with_name("waiting.h5.parts") / "manifest.json"
    stored = json.loads(manifest.read_text())
    manifest.write_text(json.dumps(stored | {"code": "0" * 64}))
    assert "expected the code of tailrace that" in refused(scenario, waiting)
    manifest.write_text("{")
    assert "found a damaged file; delete the folder" in refused(scenario, waiting)


def test_a_damaged_block_is_made_again(scenario, waiting, tmp_path):
    first = blocks(waiting)[0]
    first.write_bytes(first.read_bytes()[:-100])
    assert invoke(scenario, waiting, *FEW).exit_code == 0
    other = tmp_path / "other.h5"
    assert invoke(scenario, other, *FEW).exit_code == 0
    assert waiting.read_bytes() == other.read_bytes()


def test_a_folder_of_someone_else_is_left_alone(scenario, tmp_path):
    theirs = tmp_path / "out.h5.parts" / "thesis.txt"
    theirs.parent.mkdir()
    theirs.write_text("years of work")
    done = invoke(scenario, tmp_path / "out.h5", *FEW)
    assert done.exit_code == 2
    assert "expected blocks of a study, found other files" in done.stderr
    assert theirs.read_text() == "years of work"
