"""Options of ``improve`` that cannot be met: one sentence, exit code 2, nothing written."""

import os

import pytest
from click.testing import CliRunner

from tailrace.cli import main


def invoke(*words):
    return CliRunner().invoke(main, ["improve", *map(str, words)])


@pytest.fixture
def scenario(sound, tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(sound)
    return path


def refused(*words):
    done = invoke(*words)
    assert done.exit_code == 2, done.output
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1, done.stderr
    return done.stderr


@pytest.mark.parametrize(
    ("options", "text"),
    [
        (["--budget", "-5"], '--budget: expected a number of 0 or more, found "-5"'),
        (["--budget", "1500 crowns"], "--budget: expected a number of 0 or more"),
        (["--signal-to-noise", "80 %"], "--signal-to-noise: expected a number of 0 or more"),
        (["--pressure", "400"], '--pressure: expected a pressure with a unit such as "400 bar"'),
        (["--cell-pressure", "6 mm"], "--cell-pressure: expected a pressure"),
        (["--effort", "2"], "--effort: expected a working time with a unit"),
        (["--stop", "200%"], "--stop: expected a share from 0% to below 100%"),
        (["--stop", "little"], "--stop: expected a share"),
        (["--solute", "first", "--pair", "first/second"], "expected --solute or --pair"),
        (["--pair", "first/second"], "--pair: expected it with --aim resolution"),
        (["--aim", "resolution", "--solute", "first"], "--solute: expected a pair"),
        (["--aim", "resolution", "--pair", "first"], "--pair: expected two solutes with a stroke"),
        (["--solute", "frist"], "frist"),
        (["--aim", "resolution", "--pair", "first/third"], "third"),
        (["--expect", "figures.txt"], "expected a file name that ends in .csv or .json"),
        (["--expect", "nowhere/figures.csv"], "expected a file in a folder that exists"),
    ],
)
def test_a_wrong_option_is_one_sentence(scenario, options, text, tmp_path):
    assert text in refused(scenario, *options)
    assert os.listdir(tmp_path) == ["case.toml"]


def test_an_unknown_aim_is_told_with_those_there_are(scenario):
    done = invoke(scenario, "--aim", "beauty")
    assert done.exit_code == 2
    assert "'beauty' is not one of 'plates', 'resolution', 'tailing', 'signal'" in done.stderr


def test_a_scenario_without_changes_is_told_how_to_add_one(sound, tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(sound[: sound.index("[[changes]]")])
    text = refused(path)
    assert "[[changes]]" in text
    assert "case.toml" in text


def test_a_folder_that_is_a_file_is_refused_before_the_work(scenario, tmp_path):
    (tmp_path / "taken").write_text("")
    assert "a name that is free" in refused(scenario, "--out", tmp_path / "taken")
