"""``tailrace verify RECORD.h5``: a record of any kind comes out again from what it holds, bit for
bit, whatever the number of threads, in this process and in one of its own."""

import os
import re
import shutil
import subprocess
import sys

import h5py
import numpy as np
import pytest
from reference.every_kind import COMMANDS, LARGER, call, made

from tailrace.records.kinds import KINDS
from tailrace.records.seal import write_seal


def test_every_kind_is_among_them():
    assert {kind for _, kind in COMMANDS.values()} == {*KINDS}


@pytest.fixture(scope="module")
def record(tmp_path_factory, request):
    return made(tmp_path_factory.mktemp("record"), request.param)


@pytest.mark.parametrize("record", ["run", "sweep", "measure"], indirect=True)
def test_a_record_comes_out_again_without_the_files_that_it_was_made_from(record, monkeypatch):
    monkeypatch.setenv("NUMBA_NUM_THREADS", "3")
    again = call("verify", record)
    assert again.exit_code == 0, again.output
    assert "bit for bit" in again.output


@pytest.mark.parametrize("threads", ["2", "3"])
@pytest.mark.parametrize("record", list(COMMANDS), indirect=True)
def test_a_record_comes_out_again_in_a_process_of_its_own(record, threads, tmp_path):
    again = subprocess.run(
        [sys.executable, "-m", "tailrace", "verify", str(record)],
        cwd=tmp_path,
        env=os.environ | {"NUMBA_NUM_THREADS": threads, "OPENBLAS_NUM_THREADS": threads},
        capture_output=True,
        text=True,
        check=False,
    )
    assert again.returncode == 0, again.stdout + again.stderr
    assert "bit for bit" in again.stdout


@pytest.mark.parametrize("record", list(COMMANDS), indirect=True)
def test_a_record_agrees_to_twelve_digits_on_an_older_processor(record, tmp_path):
    _agrees(_on_an_older_processor(record, tmp_path))


@pytest.mark.parametrize("command", list(LARGER))
def test_a_record_of_what_is_shipped_agrees_there_too(command, tmp_path):
    _agrees(_on_an_older_processor(made(tmp_path, command, larger=True), tmp_path))


@pytest.mark.parametrize("record", list(COMMANDS), indirect=True)
def test_so_it_does_where_what_is_compiled_goes_without_them_too(record, tmp_path):
    """Kernels are compiled anew for that, which takes long."""
    compiled = {"NUMBA_CPU_NAME": "x86-64-v2", "NUMBA_CPU_FEATURES": ""}
    compiled["NUMBA_CACHE_DIR"] = str(tmp_path / "compiled")
    _agrees(_on_an_older_processor(record, tmp_path, **compiled))


def _agrees(again):
    assert again.returncode == 0, again.stdout + again.stderr
    assert re.search("agrees within rounding|bit for bit", again.stdout), again.stdout


def _on_an_older_processor(record, tmp_path, **more):
    """``verify`` where the libraries take other ways to exp, sin and sums."""
    found = np.show_config("dicts")["SIMD Extensions"].get("found", [])
    if not found:
        pytest.skip("numpy has found no instructions here that it could go without")
    older = {"NPY_DISABLE_CPU_FEATURES": " ".join(found), "OPENBLAS_CORETYPE": "Nehalem"}
    return subprocess.run(
        [sys.executable, "-m", "tailrace", "verify", str(record)],
        cwd=tmp_path,
        env=os.environ | older | more,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("record", ["run"], indirect=True)
def test_a_number_that_does_not_come_out_again_is_named(record, tmp_path):
    record = shutil.copy(record, tmp_path / "record.h5")
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


@pytest.mark.parametrize("record", ["run"], indirect=True)
def test_options_that_no_command_has_are_refused(record, tmp_path):
    for at, options in enumerate(("", '{"out": "elsewhere"}', '{"more": 1}')):
        other = shutil.copy(record, tmp_path / f"{at}.h5")
        with h5py.File(other, "a") as file:
            file.attrs["options"] = options
        write_seal(other)
        told = call("verify", other)
        assert told.exit_code == 2 and "expected options of `run`" in told.output
