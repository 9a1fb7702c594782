"""A tolerance study that is killed goes on where it was, and its record is the same."""

import os
import subprocess
import sys

import pytest
from click.testing import CliRunner
from reference.scenario_texts import TUBE

from tailrace.cli import main
from tailrace.studies import batch

SCENARIO = (
    TUBE
    + """
[[uncertain]]
field = "tube.length"
distribution = "normal"
standard_deviation = "10 mm"

[[uncertain]]
field = "tube.bore"
distribution = "uniform"
half_width = "5 um"
kind = "measurement"

[[accept]]
measure = "width"
at_most = "0.6 s"
"""
)
KILLS = 20
HARNESS = """
# One process loads everything and then sends out copies of itself, so that a kill costs no start.
import os, random, signal, sys, time
from pathlib import Path
from tailrace.cli import main
from tailrace.studies.tolerance import planning, solve

# Batches small enough for a test, in every copy alike.
solve.BATCH = planning.BATCH = 48
solve.LEAST_BATCHES = planning.LEAST_BATCHES = 3
solve.BY_KIND = 16

def study(out):
    options = ["--digits", "1", "--samples", "240", "--indices", "--rows", "16", "--replace"]
    main(["tolerance", scenario, *options, "--out", out], standalone_mode=False)

def begun(out):
    child = os.fork()
    if child == 0:
        try:
            study(out)
        finally:
            os._exit(0)
    return child

scenario, whole, killed, kills = sys.argv[1], sys.argv[2], sys.argv[3], int(sys.argv[4])
own = os.dup(1)
os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
study(whole)
at = time.monotonic()
os.waitpid(begun(whole), 0)
takes = time.monotonic() - at
random.seed(4)
done, kept = 0, 0
while done < kills:
    child = begun(killed)
    time.sleep(random.uniform(0, 0.5 * takes))
    os.kill(child, signal.SIGKILL)
    done += os.WIFSIGNALED(os.waitpid(child, 0)[1])
    kept += any(Path(killed + ".parts").rglob("block-*.npz"))
    if Path(killed).exists():  # the end was reached: look, and begin anew
        assert Path(killed).read_bytes() == Path(whole).read_bytes()
        os.remove(killed)
os.waitpid(begun(killed), 0)
os.write(own, f"{done} {kept}".encode())
"""


@pytest.fixture
def scenario(tmp_path):
    file = tmp_path / "tube.toml"
    file.write_text(SCENARIO)
    return file


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_killed_twenty_times_at_random_moments_it_ends_the_same(scenario, tmp_path):
    whole, killed = tmp_path / "whole.h5", tmp_path / "killed.h5"
    arguments = [sys.executable, "-c", HARNESS, scenario, whole, killed, KILLS]
    result = subprocess.run(
        list(map(str, arguments)),
        env=os.environ | {"OPENBLAS_NUM_THREADS": "1", "MPLBACKEND": "Agg"},
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert result.returncode == 0, result.stderr
    done, kept = map(int, result.stdout.split())
    assert done == KILLS
    assert kept > KILLS / 4, "most kills came before anything was kept"
    assert killed.read_bytes() == whole.read_bytes()
    assert not killed.with_name("killed.h5.parts").exists()


def test_an_interrupted_study_says_how_to_go_on_and_refuses_another_question(
    scenario, tmp_path, monkeypatch
):
    out = tmp_path / "study.h5"
    result = []

    def few(itineraries, **given):
        result.append(len(itineraries))
        if len(result) == 6:
            raise KeyboardInterrupt
        return travelled(itineraries, **given)

    travelled = batch.block_metrics
    command = ["tolerance", str(scenario), "--samples", "160", "--engine", "march"]
    command += ["--out", str(out)]
    with monkeypatch.context() as patched:
        patched.setattr(batch, "block_metrics", few)
        patched.setenv("NUMBA_NUM_THREADS", "1")
        stopped = CliRunner().invoke(main, command)
    assert stopped.exit_code == 130
    assert "study.h5.parts keeps what is done; the same command goes on" in stopped.stderr
    assert not out.exists()
    other = CliRunner().invoke(main, [*command, "--seed", "2"])
    assert other.exit_code == 2
    assert "expected the choice of seed that this study was begun with" in other.stderr
    assert len([one for one in other.stderr.splitlines() if not one.startswith("up to ")]) == 1
    counted = []

    def counting(itineraries, **given):
        counted.append(1)
        return travelled(itineraries, **given)

    monkeypatch.setattr(batch, "block_metrics", counting)
    done = CliRunner().invoke(main, command)
    assert done.exit_code in (0, 1), done.stderr
    left = len(counted)
    assert not out.with_name("study.h5.parts").exists()
    whole = CliRunner().invoke(main, [*command[:-1], str(tmp_path / "whole.h5")])
    assert whole.exit_code == done.exit_code
    assert len(counted) - left == left + 5, "what was kept must not be computed again"
    assert (tmp_path / "whole.h5").read_bytes() == out.read_bytes()
