"""The report of a study of changes: whole, alone, harmless, from the record."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from reference.improvements import CAUTION, NAMES, SCENARIO, expected, improvement, scenario
from reference.pages import FETCHING, Reader

from tailrace.journey.verification import CrossCheck
from tailrace.measures.registry import TAILING
from tailrace.records.provenance import Provenance
from tailrace.records.record import as_beside, tree_of
from tailrace.report.improvement import sentences, tables
from tailrace.report.improvement.audit import page
from tailrace.report.paper import ALWAYS
from tailrace.report.table import typeset

HOSTILE = '<script>alert(1)</script>" onload="alert(1)'
UNCERTAIN = """
[[uncertain]]
field = "flow cell.volume"
distribution = "normal"
relative = 0.05
because = "data sheet"
"""
CHECK = CrossCheck(
    lanes=("cohumulone",),
    signal={"tube": np.array([1e-5])},
    variance={"tube": np.array([1e-6])},
    values={"apex": np.array([60.0])},
    differences={"apex": np.array([1e-6])},
    foreseen={"apex": np.array([1e-5])},
    rounding=np.ones(1),
)


def made_up(text=SCENARIO + UNCERTAIN, **other):
    reported = scenario(text)
    reported.document = SimpleNamespace(solutes=[SimpleNamespace(name="cohumulone")])
    return improvement(**({"scenario": reported, "expected": expected()} | other))


@pytest.fixture
def recorded(make_result):
    """Maker of records; the states are hand-made runs."""

    def make(made=None, checks=None, warnings=(), **about):
        result = made_up() if made is None else made
        reported = {"title": "A title", "scenario_sha256": "a1b2", "version": "9.8"}
        reported |= {"scenario": result.scenario.text}
        states = {"as it is": make_result(warnings=warnings)}
        if len(result.steps) > 1:
            states["after step 3, the last"] = make_result(warnings=warnings)
        about = Provenance(**(reported | about))
        return tree_of(result, about, states=states, checks=checks)

    return make


def test_the_page_holds_every_cell_and_sentence(recorded):
    result, record = made_up(), recorded(warnings=("the end is near",))
    states = as_beside(record, "states")
    text = Reader(page(record)).text
    shown = [
        tables.steps_table(result),
        tables.changes_table(result),
        *(tables.frontier_table(result, demand) for demand in tables.DEMANDS),
        tables.expected_table(result),
        tables.choices_table(result),
        tables.uncertain_table(result),
        tables.work_table(result),
        tables.error_table(result),
        *tables.state_tables(states),
        *tables.part_tables(states),
    ]
    for table in shown:
        assert table.rows
        for row in table.rows:
            assert typeset(" ".join(" ".join(row).split())) in text, table.title
    lines = [
        sentences.verdict(result),
        *sentences.findings(result),
        *sentences.about(result),
        *ALWAYS,
    ]
    lines += ["tailrace 9.8", "numpy", "a1b2", "Signature", "Shapley 1953", "400 bar"]
    lines += ["Warning: the end is near (as it is; after step 3, the last)"]
    for line in lines:
        assert line in text, line


def test_three_pictures_stand_in_it_with_words_for_them(recorded):
    read = Reader(page(recorded()))
    assert [tag for tag, _ in read.elements].count("svg") == 3
    assert [tag for tag, _ in read.elements].count("desc") == 3


def test_the_same_record_gives_the_same_page(recorded):
    record = recorded()
    assert page(record) == page(record)


def test_the_question_in_its_own_units():
    asked = dict(tables.asked(made_up()))
    assert asked["pressure, whole path, at most"] == "400 bar"
    assert asked["aim"] == "plates of the worst solute, more is better"
    result = made_up()
    limits = replace(result.constraints, budget=500.0, effort=7500.0, signal_to_noise=0.8)
    aim = replace(result.aim, key="tailing", metric=TAILING, of="cohumulone")
    asked = dict(tables.asked(replace(result, constraints=limits, aim=aim)))
    assert asked["aim"] == "tailing of cohumulone, less is better"
    assert asked["cost, at most"] == "500"
    assert asked["work, at most"] == "2 h 5 min"
    assert asked["signal to noise over the start's, at least"] == "0.80"


def test_what_changes_are_tied_to_and_why_one_is_not_allowed():
    result = made_up()
    tied = replace(result.changes[0], needs=(NAMES[1],), excludes=(NAMES[3],))
    first, *_, last = tables.choices_table(
        replace(result, changes=(tied, *result.changes[1:]))
    ).rows
    assert first[1:4] == (
        "900",
        "30 min",
        f"needs {NAMES[1]}; not beside {NAMES[3]}",
    )
    assert first[4] == CAUTION
    assert last[4].startswith("Not allowed: the method needs temperature control")


def test_the_numerical_error_stands_beside_what_it_must_be_small_against():
    rows = tables.error_table(made_up()).rows
    # 10 000 ± 2, and a gain of 4285.7 ± 2.8; see reference/improvements.py.
    assert rows[0] == ("0 as it is", "10000.0", "2.0", "0.02", "", "", "")
    assert rows[1][1:] == ("14285.7", "2.0", "0.01", "4286", "2.8", "1500")


def test_what_could_not_be_computed_is_counted():
    result = made_up()
    assert sentences.computed_line(result).endswith(
        "all could be computed. The largest discretisation error of the metric is 0.02 % of it."
    )
    rows = result.combinations
    failed = np.array([True] * 7 + [False])
    nothing = np.full(8, np.nan)
    rows = replace(rows, computed=failed, value=nothing, error=nothing)
    assert sentences.computed_line(replace(result, combinations=rows)).endswith(
        "1 could not be computed."
    )


def test_cross_checks_are_shown_and_their_absence_is_said(recorded):
    assert "No cross-check by the second solver" in Reader(page(recorded())).text
    text = Reader(page(recorded(checks={"as it is": CHECK}))).text
    assert "Cross-check, as it is" in text
    assert "The two solvers agree" in text
    assert "No cross-check" not in text


def test_an_answer_without_steps_has_a_page(recorded):
    result = made_up(SCENARIO)
    few = replace(result.expected, rows=result.expected.rows[:2])
    one = replace(result, steps=result.steps[:1], best=0, stop_after=0, expected=few)
    text = Reader(page(recorded(one))).text
    assert "The scenario states no input uncertainty." in text
    assert "Best within" not in text
    assert "Within the constraints nothing is better" in text


def test_hostile_texts_are_harmless(recorded):
    names = (HOSTILE, *NAMES[1:])
    text = SCENARIO.replace('name = "small flow cell"', f"name = '{HOSTILE}'")
    text = text.replace('"flow cell"', f"'{HOSTILE}x'").replace(
        "A made-up instrument", "http://a.example/"
    )
    result = made_up(text, names=names, caution="<b>bold</b>")
    steps = [replace(one, of="</p><img src=//a.example/x>") for one in result.steps]
    result = replace(result, steps=tuple(steps))
    text = page(recorded(result, title=HOSTILE, assumptions=(HOSTILE,), warnings=(HOSTILE,)))
    read = Reader(text)
    assert not FETCHING & {tag for tag, _ in read.elements}
    assert not [name for _, attrs in read.elements for name in attrs if name.startswith("on")]
    assert not [link for link in read.values("href") if not link.startswith("#")]
    assert not read.values("src")
    for said in (HOSTILE, "<b>bold</b>", "</p><img src=//a.example/x>"):
        assert said in read.text
    policies = [value for value in read.values("content") if "default-src" in value]
    assert policies[0].startswith("default-src 'none'")
