"""The scenarios that come with tailrace: listed, and copied with what they need."""

import tomllib

import pytest
from click.testing import CliRunner
from reference.tree import ROOT

import tailrace
from tailrace.cli import main

SHIPPED = {path.stem: path for path in (ROOT / "scenarios").rglob("*.toml")}


@pytest.fixture
def invoke(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(main, ["examples", *map(str, arguments)])


def test_each_is_listed_with_its_title(invoke):
    lines = dict(line.split(maxsplit=1) for line in invoke().stdout.splitlines())
    assert set(lines) == set(SHIPPED)
    for name, path in SHIPPED.items():
        assert lines[name] == tomllib.loads(path.read_text())["title"]


def test_one_is_copied_with_the_files_that_it_needs(invoke, tmp_path):
    answer = invoke("measured-bores")
    assert answer.exit_code == 0, answer.output
    assert {path.name for path in tmp_path.iterdir()} == {
        "measured-bores.toml",
        "measured-bores.csv",
    }
    copied = tailrace.load(tmp_path / "measured-bores.toml")
    assert copied.text == SHIPPED["measured-bores"].read_text()


def test_all_are_copied_and_sound(invoke, tmp_path):
    assert invoke("--to", tmp_path / "new").exit_code == 0
    copied = sorted((tmp_path / "new").glob("*.toml"))
    assert {path.stem for path in copied} == set(SHIPPED)
    for path in copied:
        tailrace.load(path)


def test_nothing_is_written_over_unasked(invoke, tmp_path):
    (tmp_path / "measured-bores.csv").write_text("mine")
    answer = invoke("measured-bores")
    assert answer.exit_code == 2
    assert "measured-bores.csv: expected a name that is free" in answer.stderr
    assert [path.read_text() for path in tmp_path.iterdir()] == ["mine"]
    assert invoke("measured-bores", "--force").exit_code == 0
    assert (tmp_path / "measured-bores.csv").read_text() != "mine"


def test_an_unknown_one_is_refused_with_the_nearest(invoke):
    answer = invoke("bare-tub")
    assert (answer.exit_code, answer.stdout) == (2, "")
    assert 'write "bare-tube"' in answer.stderr


def test_a_folder_that_cannot_be_made_is_refused(invoke, tmp_path):
    (tmp_path / "file").write_text("")
    answer = invoke("bare-tube", "--to", tmp_path / "file" / "below")
    assert answer.exit_code == 2
    assert "a name that is free" in answer.stderr
