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
from reference.every_kind import COMMANDS, call, made

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


@pytest.mark.parametrize("record", ["run", "measure", "compare"], indirect=True)
def test_a_record_agrees_to_twelve_digits_on_an_older_processor(record, tmp_path):
    again, found = _on_an_older_processor(record, tmp_path)
    assert again.returncode == 0, again.stdout + again.stderr
    assert not found or "agrees within rounding" in again.stdout


@pytest.mark.parametrize("record", ["sweep", "improve", "fit", "diagnose"], indirect=True)
def test_what_is_made_of_differences_says_how_many_digits_agree_there(record, tmp_path):
    again, _ = _on_an_older_processor(record, tmp_path)
    assert "NOT" not in again.stdout, again.stdout
    digits = re.search("agrees to ([0-9]+) digits", again.stdout)
    assert again.returncode == (1 if digits else 0)
    assert not digits or int(digits[1]) >= 8


def _on_an_older_processor(record, tmp_path):
    """``verify``, and what the libraries go without: they take other ways to exp, sin, sums."""
    found = np.show_config("dicts")["SIMD Extensions"].get("found", [])
    older = {"NPY_DISABLE_CPU_FEATURES": " ".join(found), "OPENBLAS_CORETYPE": "Nehalem"}
    again = subprocess.run(
        [sys.executable, "-m", "tailrace", "verify", str(record)],
        cwd=tmp_path,
        env=os.environ | older,
        capture_output=True,
        text=True,
        check=False,
    )
    return again, found


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
