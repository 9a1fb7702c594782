"""Scenarios from text, from tables and changed in code: the same checks, the same sentences."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.improving import START, loaded
from reference.scenario_texts import TUBE

import tailrace
from tailrace.errors import ScenarioError, TailraceError
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.toml import as_toml

SIGNAL = TUBE[: TUBE.index("[injection]")] + (
    '[injection]\nshape = "signal"\nfile = "inlet.csv"\n' + TUBE[TUBE.index("[[path]]") :]
)


@pytest.fixture
def scenario():
    return Scenario.from_text(TUBE)


def refused(make):
    with pytest.raises(ScenarioError) as reported:
        make()
    return reported.value.problems


def test_text_and_tables_give_the_same(scenario):
    result = Scenario.from_tables(tomllib.loads(TUBE))
    assert result.document == scenario.document
    assert result.tables == scenario.tables == tomllib.loads(result.text)
    assert result.assumptions() == scenario.assumptions()


def test_the_same_sentences(tmp_path):
    file = tmp_path / "tube.toml"
    wrong = TUBE.replace("0.12 mm", "0.12")
    file.write_text(wrong)
    (by_file,) = refused(lambda: tailrace.load(file))
    (by_text,) = refused(lambda: Scenario.from_text(wrong, tmp_path, name="tube.toml"))
    (by_tables,) = refused(lambda: Scenario.from_tables(tomllib.loads(wrong)))
    assert by_file == by_text
    assert by_tables.removeprefix("scenario: ") == by_file.split(": ", 1)[1]


def test_values_are_changed_and_checked(scenario):
    longer = scenario.changed({"tube.length": "600 mm", "method.flow": "0.5 mL/min"})
    assert longer.document.path[0].length == pytest.approx(0.6)
    assert longer.document.method.flow == pytest.approx(0.5e-6 / 60)
    assert scenario.document.path[0].length == pytest.approx(0.5)
    # what it says of itself can be run again
    assert Scenario.from_text(longer.text).document == longer.document
    assert longer.sha256 != scenario.sha256
    (sentence,) = refused(lambda: scenario.changed({"tube.length": 600}))
    assert sentence.startswith("with tube.length = 600: scenario: path[0].length: expected")
    with pytest.raises(TailraceError, match='write "length"'):
        scenario.changed({"tube.lenght": "600 mm"})


def test_a_table_that_was_not_there_is_made(scenario):
    slow = scenario.changed({"detector.time_constant": "0.1 s"})
    assert slow.document.detector.time_constant == 0.1
    assert scenario.document.detector is None


def test_changes_of_the_file_are_made(tmp_path):
    change = '[[changes]]\nname = "short"\nset = { "inlet tube" = { length = "100 mm" } }\n'
    result = loaded(tmp_path, change).with_changes("short")
    assert result.document.path[0].length == pytest.approx(0.1)
    assert Scenario.from_text(result.text).document == result.document
    (sentence,) = refused(lambda: loaded(tmp_path, change).with_changes("shirt"))
    assert 'write "short"' in sentence


def test_a_file_is_read_once_and_kept_with_its_hash(tmp_path):
    (tmp_path / "inlet.csv").write_text("0,0\n0.1,1\n0.2,1\n0.3,0\n")
    scenario = Scenario.from_text(SIGNAL, tmp_path)
    before = scenario.itinerary().passages[0][0].signal_heights
    assert set(scenario.files.hashes()) == {"inlet.csv"}
    (tmp_path / "inlet.csv").unlink()
    for one in (scenario, scenario.changed({"tube.length": "600 mm"})):
        assert (one.itinerary().passages[0][0].signal_heights == before).all()


def test_files_can_be_handed_over():
    files = {"inlet.csv": b"0,0\n0.1,1\n0.2,1\n0.3,0\n"}
    assert Scenario.from_text(SIGNAL, files=files).curve[1].tolist() == [0.0, 1.0, 1.0, 0.0]
    (sentence,) = refused(lambda: Scenario.from_text(SIGNAL, files={"inlet.csv": b"0,0\n"}))
    assert "expected at least 3 points" in sentence


WORDS = st.text(st.characters(blacklist_categories=["Cs"]), max_size=12)
PLAIN = st.one_of(
    WORDS, st.integers(-(2**60), 2**60), st.booleans(), st.floats(allow_nan=False, width=64)
)
VALUES = st.recursive(
    PLAIN,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(WORDS, inner, max_size=3)),
    max_leaves=6,
)


@given(st.dictionaries(WORDS, VALUES, max_size=4))
def test_whatever_is_written_is_read_back(tables):
    assert tomllib.loads(as_toml(tables)) == tables


def test_what_toml_cannot_hold_is_refused():
    (sentence,) = refused(lambda: as_toml({"a": {"b": None}}))
    assert "NoneType" in sentence


def test_the_start_of_the_tests_of_changes_is_sound():
    assert tomllib.loads(as_toml(tomllib.loads(START))) == tomllib.loads(START)
