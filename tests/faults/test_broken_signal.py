"""An injected signal from a CSV file: every bad row is named with file and line."""

import os

import pytest

from tailrace.scenario.files import Files

PLUG = 'shape = "plug"\nvolume = "2 uL"'
SIGNAL = 'shape = "signal"\nfile = "inlet.csv"'
GOOD = "time,height\n0,0\n0.1,1\n0.2,0.8\n0.3,0\n"
BAD = {
    "words": (
        b"time,height\n0,0\n0.1,one\n0.2,0\n",
        ["inlet.csv:3: expected a time in s, a comma"],
    ),
    "semicolons": (b"0;0\n1;1\n2;0\n", ["inlet.csv:2: ", "inlet.csv:3: "]),
    "three columns": (b"0,0\n1,1,1\n2,1\n3,0\n", ["inlet.csv:2: "]),
    "far below zero": (b"0,0\n1,-1\n2,1\n3,0\n", ["inlet.csv: expected a peak with noise around"]),
    "not finite": (b"0,0\n1,nan\n2,inf\n3,1\n", ["inlet.csv:2: ", "inlet.csv:3: "]),
    "backwards": (b"# run\n\n0,0\n2,1\n1,1\n", ["inlet.csv:5: expected a time after 2 s"]),
    "time twice": (b"0,0\n1,1\n1,1\n2,0\n", ["inlet.csv:3: expected a time after 1 s"]),
    "two points": (b"0,0\n1,1\n", ["inlet.csv: expected at least 3 points, found 2"]),
    "no points": (b"", ["inlet.csv: expected at least 3 points, found 0"]),
    "no area": (b"0,0\n1,0\n2,0\n", ["inlet.csv: expected a height above 0"]),
    "one point": (b"0,0\n1,1\n2,0\n", ["inlet.csv: expected points that say how wide"]),
    "not UTF-8": (b"0,0\n1,\xff\n2,0\n", ["inlet.csv:2: expected UTF-8"]),
    "21 MB": (b"0" * 21_000_000, ["inlet.csv: expected at most 20 MB"]),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_rows_are_named(name, tmp_path, broken, refusal):
    content, beginnings = BAD[name]
    (tmp_path / "inlet.csv").write_bytes(content)
    lines = refusal(broken(PLUG, SIGNAL))
    assert len(lines) == len(beginnings), lines
    for line, beginning in zip(lines, beginnings, strict=True):
        assert line.startswith(beginning)


def test_a_missing_file_is_named_at_its_key(broken, refusal):
    text = broken(PLUG, SIGNAL)
    (line,) = refusal(text)
    number = text.splitlines().index('file = "inlet.csv"') + 1
    assert line.startswith(f"case.toml:{number}: injection.file: expected a CSV file")
    assert "no such file" in line


@pytest.mark.skipif(os.name != "posix", reason="pipes of POSIX")
def test_a_pipe_is_no_signal_and_nobody_waits_for_it(tmp_path, broken, refusal):
    os.mkfifo(tmp_path / "inlet.csv")
    (line,) = refusal(broken(PLUG, SIGNAL))
    assert "found a pipe or a device" in line and "no such" not in line


def test_a_folder_is_no_signal(tmp_path, broken, refusal):
    (tmp_path / "inlet.csv").mkdir()
    (line,) = refusal(broken(PLUG, SIGNAL))
    assert "injection.file: expected a CSV file" in line


def test_faults_of_both_files_are_told_together(tmp_path, broken, refusal):
    (tmp_path / "inlet.csv").write_text(GOOD.replace("1\n", "x\n"))
    lines = refusal(broken(PLUG, SIGNAL).replace("tanks = 2", "tanks = 0"))
    assert [line.split(":")[0] for line in lines] == ["case.toml", "inlet.csv"]


def test_noise_around_a_correct_zero_is_data(tmp_path):
    (tmp_path / "inlet.csv").write_text("0,-0.02\n1,0.5\n2,1\n3,0.5\n4,-0.1\n5,0.01\n")
    _, heights = Files(tmp_path).curve("inlet.csv")
    assert heights.min() == -0.1
