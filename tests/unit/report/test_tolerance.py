"""What is said of a tolerance study: complete, in the trade's units, harmless, from the record."""

import json
import re
from dataclasses import replace

import pytest
from reference.pages import FETCHING, Reader
from reference.studies import acceptance, made_up

import tailrace
from tailrace.records.provenance import Provenance
from tailrace.records.tolerance import as_record, as_study
from tailrace.report.paper import ALWAYS
from tailrace.report.text import WIDTH
from tailrace.report.tolerance import page, tables, words
from tailrace.report.tolerance.contract import as_contract
from tailrace.report.tolerance.text import as_text

HOSTILE = "<script>alert(1)</script>"
NAMES = ('"/../x" onload="alert(1)".bore', "</style><img src=//a.example/x>.volume")


@pytest.fixture(scope="module")
def scenario():
    return tailrace.load("scenarios/improved-core-shell.toml")


def recorded(loaded, made=None, **about):
    told = {"title": "A study", "scenario_sha256": "a1b2", "scenario": "x = 1", "version": "9.8"}
    return as_record(made or made_up(loaded), Provenance(**(told | about)))


@pytest.fixture(scope="module")
def record(scenario):
    return recorded(scenario)


@pytest.fixture(scope="module")
def study(record):
    return as_study(record)


@pytest.fixture(scope="module")
def text(study):
    return as_text(study)


def test_every_figure_comes_with_its_uncertainty(text):
    line = next(line for line in text.splitlines() if line.startswith("plates of cohumulone"))
    assert len(re.findall(r"\d ± \d", line)) == 3
    line = next(line for line in text.splitlines() if line.startswith("pressure, bar"))
    assert re.search(r"21\d\.\d+ ± 0\.\d+", line), "in bar, not in Pa"


def test_the_text_keeps_to_its_width_and_says_what_was_asked(text):
    assert max(map(len, text.splitlines())) <= WIDTH
    for said in (
        "uniform, half width 0.012 mm",
        "at most 3.300 s",
        "Share of the variance: pressure",
        "of 30 places, 12 keep the criteria",
        "union in place of the column",
        "One sample of 400 carries a warning",
        "seed 1",
    ):
        assert said in text


def test_the_conclusion_names_what_is_not_kept_and_by_how_much(scenario, study):
    assert words.conclusion(study).startswith("Not shown: width of cohumulone, at most 3.300 s (")
    made = made_up(scenario)
    good = tuple(
        replace(one, acceptance=None if one.acceptance is None else acceptance())
        for one in made.outcomes
    )
    kept = replace(study, outcomes=good)
    assert "at least 97.5 % of instruments with 95.0 % confidence" in words.conclusion(kept)
    missed = replace(kept, acceptance=acceptance(380, 18, lower=0.93))
    assert words.conclusion(missed).startswith("Not shown: all criteria together (kept by at least")
    free = tuple(replace(one, acceptance=None) for one in good)
    assert "No criteria" in words.conclusion(replace(study, outcomes=free, acceptance=None))


def test_the_json_object_is_plain_and_holds_no_samples(study):
    told = json.loads(json.dumps(as_contract(study), allow_nan=False))
    assert told["question"]["seed"] == 1
    assert told["met"] is False
    assert [one["name"] for one in told["outcomes"]] == [one.name for one in study.outcomes]
    assert told["outcomes"][0]["acceptance"]["met"] is True
    assert told["outcomes"][2]["at_least"] is None
    assert "values" not in told["outcomes"][0]
    assert told["qualification"][0]["guard"] == 0.033


def test_the_page_holds_every_cell_and_where_it_comes_from(record, study):
    said = Reader(page(record)).text
    shown = [
        tables.spread_table(study),
        tables.intervals_table(study),
        tables.acceptance_table(study),
        tables.kinds_table(study),
        tables.tolerance_limits_table(study),
        tables.first_order_table(study),
        *tables.indices_tables(study),
        tables.widening_table(study),
        tables.numerical_table(study),
        words.inputs_words(study),
        words.qualification_words(study),
    ]
    for table in shown:
        for row in table.rows:
            assert " ".join(" ".join(row).split()) in said, table.title
    for line in (*ALWAYS, "tailrace 9.8", "numpy", "a1b2", "Signature", "JCGM 106:2012", "seed"):
        assert line in said


def test_a_page_from_the_same_record_is_the_same(record, study):
    assert page(record) == page(record)


def test_hostile_names_are_harmless(scenario):
    made = made_up(scenario, NAMES)
    worse = tuple(replace(one, name=f"{one.name} of {HOSTILE}") for one in made.outcomes)
    checks = tuple(replace(one, what=HOSTILE, rule=HOSTILE) for one in made.checks)
    made = replace(made, outcomes=worse, checks=checks, cautions=(HOSTILE,))
    text = page(recorded(scenario, made, title=HOSTILE, scenario=f'title = "{HOSTILE}"'))
    read = Reader(text)
    assert not FETCHING & {tag for tag, _ in read.elements}
    for _, attributes in read.elements:
        assert not [name for name in attributes if name.startswith("on")]
    assert not [link for link in read.values("href") if not link.startswith("#")]
    assert not read.values("src")
    assert HOSTILE in read.text
    assert "default-src 'none'" in text
    assert "http" not in text.lower().replace("http-equiv", "")


def test_what_was_not_asked_for_is_left_out(scenario):
    made = made_up(scenario)
    empty = dict.fromkeys(("widenings", "maps", "checks", "cautions"), ())
    small = replace(made, indices=None, stop=None, **empty)
    record = recorded(scenario, small)
    text = as_text(as_study(record))
    for said in ("Share of the variance", "How wide", "Qualification", "places"):
        assert said not in text
    said = Reader(page(record)).text
    for heading in ("What matters", "How wide tolerances may be", "Qualification"):
        assert heading not in said
    assert "No cross-check by the second solver is in this record" in said


def test_a_limit_is_told_with_all_its_digits(study):
    asked = replace(study.outcomes[0], unit="1", kind="", at_least=11005.0, at_most=float("nan"))
    assert tables.limits(asked) == "at least 11005"
    pressure = replace(asked, unit="Pa", kind="pressure", at_least=float("nan"), at_most=300.05e5)
    assert tables.limits(pressure) == "at most 300.05 bar"
    computed = replace(asked, at_least=1.0 / 3.0)
    assert tables.limits(computed) == "at least 0.3333"


def test_a_guard_band_is_told_with_the_acceptance_limit(text):
    said = " ".join(text.split())
    assert re.search(r"guard band: \S+ s, \S+ times the standard uncertainty of the m", said)
    assert "acceptance limit: at most" in said
    assert "right but not passed at once" in said
