"""Whatever a file of a signal holds, there is an answer or one sentence."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from reference.signals import as_text, mutated, peak
from reference.tree import ROOT

from tailrace.cli import main
from tailrace.errors import TailraceError
from tailrace.measurements.measuring import measured_file
from tailrace.measurements.reading import read_signal
from tailrace.measurements.signal import SignalError

TIMES = np.arange(0, 60, 0.1)
VALUES = peak(TIMES, 0.5, 0.3, 30.0) + np.random.default_rng(2).normal(0, 0.1, TIMES.size)
SOUND = {
    "text": as_text(TIMES, VALUES).encode(),
    "decimal comma": as_text(TIMES, VALUES, delimiter=";", decimal=",").encode("utf-16"),
    "even": (ROOT / "tests" / "data" / "uv-trace-e1947.cdf").read_bytes(),
    "uneven": (ROOT / "tests" / "data" / "uneven-trace-e1947.cdf").read_bytes(),
}
COUNT = 30


@pytest.mark.parametrize("kind", SOUND)
def test_spoilt_files_are_answered_or_refused(kind):
    refused = 0
    for seed in range(COUNT):
        content = mutated(SOUND[kind], np.random.default_rng([seed, len(kind)]))
        try:
            measured_file(read_signal(content, "spoilt"))
        except TailraceError as error:
            assert "\n" not in str(error)
            refused += 1
    assert refused > 0


def test_the_command_refuses_in_one_line_with_exit_code_2(tmp_path):
    file = tmp_path / "a.csv"
    file.write_bytes(b"nothing here\n")
    done = CliRunner().invoke(main, ["measure", str(file)])
    assert done.exit_code == 2
    assert done.stderr.count("\n") == 1
    assert done.stderr.startswith("a.csv: expected lines of numbers")


def test_the_command_measures_writes_and_reads_back(tmp_path):
    import tailrace

    file, out = tmp_path / "a.csv", tmp_path / "out"
    file.write_bytes(SOUND["text"])
    done = CliRunner().invoke(main, ["measure", str(file), "--json", "--out", str(out)])
    assert done.exit_code == 0, done.output
    (reported,) = json.loads(done.stdout)["files"]
    (one,) = reported["peaks"]
    assert one["height"] == pytest.approx(100, rel=0.01)
    assert 0 < one["uncertainty"]["variance"] < one["variance"]
    back = tailrace.read(out / "record.h5").files["a.csv"]
    assert back.metrics["height"][0] == one["height"]
    assert back.signal.sha256 == reported["sha256"]
    assert (out / "report.html").read_text("utf-8").count(reported["sha256"]) == 1
    assert tailrace.read(out / "record.h5").to_json() == done.stdout.rstrip("\n")


def test_a_signal_of_noise_alone_is_refused():
    noise = np.random.default_rng(2).normal(0, 0.1, TIMES.size)
    with pytest.raises(SignalError, match="found none"):
        measured_file(read_signal(as_text(TIMES, noise).encode(), "noise"))
