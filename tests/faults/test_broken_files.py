"""Files that are wrong as a whole, keys that are missing, and several faults at once."""

import subprocess
import sys

import pytest
from click.testing import CliRunner

from tailrace.cli import main

COLUMN_HEAD = '[[path]]\nname = "column"\npart = "column"\n'
MARKED_COLUMN = '[[path]] # HERE\nname = "column"\npart = "column"\n'
SECOND = '[[solutes]]\nname = "second"\nretention_factor = 4.0\nmolar_volume = "180 cm^3/mol"\n'
ELUENT = "eluent = { water = 0.25, acetonitrile = 0.75 }\n"
COMPOSITION = "{ water = 0.25, acetonitrile = 0.75 }"
MISSING = {
    "bore": (
        COLUMN_HEAD + 'bore = "2.1 mm"\n',
        MARKED_COLUMN,
        "path[2].bore",
        'add bore = "0.12 mm"',
    ),
    "part": (
        '[[path]]\nname = "joint"\npart = "fitting"',
        '[[path]] # HERE\nname = "joint"',
        "path[1].part",
        "cell, chamber, column, fitting, tee, tube",
    ),
    "flow": ('[method]\nflow = "0.60 mL/min"', "[method] # HERE", "method.flow", "add flow ="),
    "shape": ('[injection]\nshape = "plug"', "[injection] # HERE", "injection.shape", "signal"),
    "sigma": (
        '[injection]\nshape = "plug"\nvolume = "2 uL"',
        '[injection] # HERE\nshape = "gaussian"',
        "injection.sigma",
        'sigma = "0.05 s"',
    ),
    "washout volume": (
        '[injection]\nshape = "plug"',
        '[injection] # HERE\nshape = "washout"',
        "injection.washout_volume",
        "add washout_volume",
    ),
    "diffusivity": (
        SECOND,
        '[[solutes]] # HERE\nname = "second"\nretention_factor = 4.0\n',
        "solutes[1]",
        "either diffusivity or molar_volume",
    ),
    "retention factor": (
        '[[solutes]]\nname = "first"\nretention_factor = 2.1',
        '[[solutes]] # HERE\nname = "first"',
        "solutes[0]",
        "retention_factor",
    ),
    "composition": (ELUENT, 'viscosity = "1 mPa*s" # HERE\n', "solutes[1].molar_volume", "eluent"),
    "effect": (
        '[[changes]]\nname = "small cell"',
        '[[changes]] # HERE\nname = "small cell"\n[[changes]]\nname = "other"\nremove = ["joint"]',
        "changes[0]",
        "neither set nor",
    ),
    "no such cell": (
        "[detector]",
        '[detector]\ncell = "flaw cell" # HERE',
        "detector.cell",
        "flow cell",
    ),
    "correlation": (
        COMPOSITION,
        "{ water = 0.2, acetonitrile = 0.4, methanol = 0.4 } # HERE",
        "method",
        "give viscosity",
    ),
    "cold": ('"35 degC"', '"2 degC" # HERE', "method", "5 to 90 degC"),
    "hot part": (
        'bore = "0.17 mm"',
        'bore = "0.17 mm"\ntemperature = "120 degC" # HERE',
        "path[0].temperature",
        "5 to 90 degC",
    ),
}
LINES = {
    "composition": 'molar_volume = "180',
    "effect": None,
    "second column": 'part = "column"',
    "correlation": "[method]",
    "cold": "[method]",
}


@pytest.mark.parametrize("name", MISSING)
def test_what_is_missing_or_once_too_often_is_named_with_its_line(name, broken, refusal):
    old, new, key, phrase = MISSING[name]
    text = broken(old, new)
    mark = LINES.get(name) or "# HERE"
    number = max(n for n, line in enumerate(text.splitlines(), start=1) if mark in line)
    if name == "effect":
        number = min(n for n, line in enumerate(text.splitlines(), start=1) if mark in line)
    lines = refusal(text)
    assert len(lines) == 1, lines
    assert lines[0].startswith(f"case.toml:{number}: {key}: "), lines
    assert phrase in lines[0]


def test_missing_tables_are_all_named(refusal):
    lines = refusal('title = "nothing else"\n')
    assert [line.split(": ")[1] for line in lines] == ["method", "solutes", "injection", "path"]
    assert "[[path]]" in lines[3] and "[injection]" in lines[2]


def test_a_key_above_its_table_is_sent_there(refusal, sound):
    lines = refusal(sound.replace("[method]\n", "", 1))
    reported = [line for line in lines if ": flow: " in line]
    assert len(reported) == 1
    assert "found flow, a key of [method]" in reported[0]
    assert "; put the line with the name of its table above it" in reported[0]


def test_an_empty_path_is_refused(refusal, sound):
    head, tail = sound.split("[[path]]", 1)
    text = "path = []\n" + head + tail[tail.index("[detector]") : tail.index("[[changes]]")]
    assert refusal(text) == [
        "case.toml:1: path: expected at least one entry, found an empty list; "
        "write it like [[path]]"
    ]


def test_single_brackets_where_double_ones_belong(refusal, sound):
    lines = refusal(sound.replace("[[solutes]]", "[solutes]", 1).replace(SECOND, ""))
    assert lines == [
        "case.toml:8: solutes: expected a list, found a table; write it like [[solutes]]"
    ]


WHOLE = {
    "not UTF-8": (b'title = "a"\n\nflow = "\xff\xfe"\n', "case.toml:3: expected UTF-8"),
    "10 MB": (b"a" * 10_000_000, "case.toml: expected at most 1 MB"),
    "empty": (b"", "case.toml: expected a scenario, found an empty file"),
    "blank": (b" \n\n", "case.toml: expected a scenario, found an empty file"),
    "picture": (b"\x89PNG\r\n\x1a\n\x00\x00", "case.toml:1: expected UTF-8"),
    "no value": (b"[method]\nflow =\n", "case.toml:2: expected TOML, found: invalid value"),
    "no equals sign": (b"[method]\nflow\n", "case.toml:2: expected TOML"),
    "open quote": (b'title = "a\n', "case.toml:1: expected a text in quotes"),
    "open list": (b"path = [\n\n", "case.toml:3: expected TOML"),
    "key twice": (b"[a]\nb = 1\nb = 2\n", "case.toml:3: expected TOML"),
    "table twice": (
        b"[a.b]\n[c]\n[a.b]\n",
        "case.toml:3: expected TOML, found: cannot declare 'a.b'",
    ),
    "deep": (b"a = " + b"[" * 100_000, "case.toml: expected TOML, found: brackets nested too deep"),
    "many digits": (b"a = " + b"1" * 5000, "case.toml: expected TOML"),
    "null byte": (b"a = 1\n\x00\n", "case.toml:2: expected TOML"),
}


@pytest.mark.parametrize("name", WHOLE)
def test_a_file_that_is_no_scenario_gets_one_sentence(name, refusal):
    content, beginning = WHOLE[name]
    lines = refusal(content)
    assert len(lines) == 1, lines
    assert lines[0].startswith(beginning), lines
    assert len(lines[0]) < 300


def test_five_faults_are_told_at_once_in_the_order_of_the_file(refusal, sound):
    text = (
        sound.replace('"0.60 mL/min"', "0.60")
        .replace("retention_factor = 2.1", "retention_factor = -1")
        .replace('bore = "0.17 mm"', 'bore = "0.17 s"')
        .replace('name = "joint"', 'name = "needle seat"')
        .replace('interval = "50 ms"', 'rise_time = "1 s"')
    )
    keys = [line.split(": ")[1] for line in refusal(text)]
    assert keys == [
        "method.flow",
        "solutes[0].retention_factor",
        "path[0].bore",
        "path[1].name",
        "detector.rise_time",
    ]


def test_a_thousand_faults_are_counted_not_listed(refusal, sound):
    lines = refusal(sound + "".join(f'set_{i} = "x"\n' for i in range(1000)))
    assert len(lines) == 51
    assert lines[-1].endswith("950 more problems")


CASES_OF_PATHS = {
    "directory": ("", "found a directory"),
    "no file": ("none.toml", "found nothing"),
    "file as folder": ("case.toml/x.toml", "found nothing"),
}


@pytest.mark.parametrize("name", CASES_OF_PATHS)
def test_what_is_no_file_answers_2_without_a_trace(name, tmp_path, sound):
    (tmp_path / "case.toml").write_text(sound)
    ending, phrase = CASES_OF_PATHS[name]
    answer = CliRunner().invoke(main, ["check", str(tmp_path / ending)])
    assert answer.exit_code == 2
    assert answer.stdout == ""
    assert len(answer.stderr.splitlines()) == 1
    assert phrase in answer.stderr


def test_a_folder_that_may_not_be_entered(monkeypatch):
    def refused(path, **_):
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr("pathlib.Path.stat", refused)
    answer = CliRunner().invoke(main, ["check", "locked/case.toml"])
    assert answer.exit_code == 2
    assert "Permission denied" in answer.stderr
    assert len(answer.stderr.splitlines()) == 1


def test_real_process_names_the_line_of_a_slip(tmp_path, broken):
    path = tmp_path / "case.toml"
    path.write_text(broken('"0.17 mm"', "0.17"))
    answer = in_a_process("check", str(path))
    assert (answer.returncode, answer.stdout) == (2, "")
    assert answer.stderr.startswith(f"{path}:25: path[0].bore: expected a bore")
    assert len(answer.stderr.splitlines()) == 1


def test_a_device_is_refused():
    answer = CliRunner().invoke(main, ["check", "/dev/zero"])
    assert answer.exit_code == 2
    assert "expected a plain file" in answer.stderr


def in_a_process(*words):
    """Run ``python -m tailrace`` and return how it ended."""
    return subprocess.run(
        [sys.executable, "-m", "tailrace", *words],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
