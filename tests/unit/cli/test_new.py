"""A scenario from a few questions."""

import click
import pytest
from click.testing import CliRunner

import tailrace
from tailrace.cli import main
from tailrace.cli.starting import QUESTIONS, _reader


@pytest.fixture
def invoke(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return lambda *arguments, **more: CliRunner().invoke(main, list(map(str, arguments)), **more)


def answers(**given):
    return "".join(f"{given.get(key, '')}\n" for key in QUESTIONS)


def test_without_questions_it_loads_checks_and_runs_without_a_warning(invoke, tmp_path):
    assert invoke("new", "--defaults").exit_code == 0
    file = tmp_path / "scenario.toml"
    assert "OK" in invoke("check", file).stdout
    scenario = tailrace.load(file)
    result = tailrace.run(scenario)
    assert result.warnings == ()
    assert result.recorded["plates_half_height"] > 10_000
    assert (len(scenario.document.changes), len(scenario.document.accept)) == (1, 1)
    assert file.read_text().count("#") > 10


def test_empty_answers_are_the_defaults(invoke, tmp_path):
    assert invoke("new", "--defaults", "one.toml").exit_code == 0
    assert invoke("new", "other.toml", input=answers()).exit_code == 0
    assert (tmp_path / "one.toml").read_text() == (tmp_path / "other.toml").read_text()


def test_what_is_answered_is_written(invoke, tmp_path):
    given = {
        "title": 'A "wide" column',
        "flow": "1 mL/min",
        "eluent": "methanol 100",
        "column_bore": "4.6 mm",
        "particle": "fully porous",
        "length_behind": "100 mm",
    }
    assert invoke("new", "wide.toml", input=answers(**given)).exit_code == 0
    result = tailrace.load(tmp_path / "wide.toml").document
    column = next(one for one in result.path if one.part == "column")
    assert result.title == 'A "wide" column'
    assert result.method.eluent.composition == {"methanol": 1.0}
    assert (column.bore, column.particle) == (4.6e-3, "fully porous")
    assert result.changes[0].set["tube to cell"]["length"] == "50 mm"


def test_a_wrong_answer_is_asked_again(invoke, tmp_path):
    lines = answers().splitlines(keepends=True)
    lines.insert(1, "0.5\n")
    answer = invoke("new", input="".join(lines))
    assert answer.exit_code == 0
    assert "expected a flow rate with a unit" in answer.output
    assert tailrace.load(tmp_path / "scenario.toml").document.method.flow > 0


def test_answers_that_do_not_go_together_write_nothing(invoke, tmp_path):
    # its viscosity is known at 25 degC only
    given = {"eluent": "water 20, methanol 40, acetonitrile 40"}
    answer = invoke("new", input=answers(**given))
    assert answer.exit_code == 2
    assert "scenario.toml:" in answer.stderr
    assert list(tmp_path.iterdir()) == []


def test_times_two_solutes_a_loop_and_plates_are_written(invoke, tmp_path):
    given = {
        "retention": "3.2 min",
        "second": "4.5",
        "size": "C8H10N4O2",
        "eluent": "40 % methanol / 60 % water",
        "loop": "0.25 mm",
        "injected": "5 uL",
        "plates": "15500",
        "particle": "SPP",
    }
    assert invoke("new", input=answers(**given)).exit_code == 0
    read = tailrace.load(tmp_path / "scenario.toml").document
    one, two = read.solutes
    assert (one.formula, two.retention_factor) == ("C8H10N4O2", 4.5)
    assert one.retention_factor > 5  # found from its time
    assert (read.injection.shape, read.injection.sizes[0]) == ("loop", 0.25e-3)
    column = next(one for one in read.path if one.part == "column")
    assert (column.plates, column.particle) == (15500, "core-shell")
    assert read.method.eluent.composition == {"methanol": 0.4, "water": 0.6}


@pytest.mark.parametrize(
    ("kind", "answer", "said"),
    [
        ("retention", "200 mL/mol", 'a time such as "3.2 min"'),
        ("second", "soon", "expected a number"),
        ("size", "200 mL", "expected a molar volume"),
        ("bore or none", "5", "expected a bore with a unit"),
    ],
)
def test_each_answer_is_refused_in_words_of_the_trade(kind, answer, said):
    with pytest.raises(click.UsageError, match=said):
        _reader(kind)(answer)


def test_a_file_is_written_over_only_where_that_is_said(invoke, tmp_path):
    file = tmp_path / "scenario.toml"
    file.write_text("mine")
    answer = invoke("new", "--defaults")
    assert (answer.exit_code, file.read_text()) == (2, "mine")
    assert "expected a name that is free" in answer.stderr
    assert invoke("new", "--defaults", "--force").exit_code == 0
    assert file.read_text() != "mine"


def test_an_answer_that_is_no_number_is_refused_in_words():
    with pytest.raises(click.UsageError, match='expected a number such as 3, found "200 mL"'):
        _reader("plates")("200 mL")
