"""What is said of a tolerance study: complete, in the trade's units, harmless, from the record."""

import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest
from reference.pages import FETCHING, Reader
from reference.studies import acceptance, made_up

import tailrace
from tailrace.records.provenance import Provenance
from tailrace.records.record import as_provenance, as_result, tree_of
from tailrace.records.trade import in_words
from tailrace.report.forms import read
from tailrace.report.paper import ALWAYS
from tailrace.report.table import CELL, WIDTH, typeset
from tailrace.report.tolerance import checking, drifting, sentences, tables
from tailrace.report.tolerance.audit import page
from tailrace.report.tolerance.printed import as_json, as_text
from tailrace.studies.tolerance.result import Drifted, Drifting, Interval

HOSTILE = "<script>alert(1)</script>"
NAMES = ('"/../x" onload="alert(1)".bore', "</style><img src=//a.example/x>.volume")


@pytest.fixture(scope="module")
def scenario():
    return tailrace.load("scenarios/improved-core-shell.toml")


def recorded(loaded, made=None, **about):
    reported = {
        "title": "A study",
        "scenario_sha256": "a1b2",
        "scenario": "x = 1",
        "version": "9.8",
    }
    return tree_of(made or made_up(loaded), Provenance(**(reported | about)))


@pytest.fixture(scope="module")
def record(scenario):
    return recorded(scenario)


@pytest.fixture(scope="module")
def study(record):
    return as_result(record)


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
        "uniform, half width 12 um",
        "at most 3.300 s",
        "Share of the variance: pressure",
        "of 30 places, 12 satisfy the criteria",
        "union in place of the column",
        "1 of 400 samples carry warnings; the first: the pressure is near its limit",
        "seed 1",
    ):
        assert said in text


def test_the_conclusion_names_what_is_not_kept_and_by_how_much(scenario, study):
    assert sentences.conclusion(study).startswith(
        "Not shown: width of cohumulone, at most 3.300 s ("
    )
    result = made_up(scenario)
    good = tuple(
        replace(one, acceptance=None if one.acceptance is None else acceptance())
        for one in result.outcomes
    )
    kept = replace(study, outcomes=good)
    assert "a probability of at least 97.5 % for" in sentences.conclusion(kept)
    missed = replace(kept, acceptance=acceptance(380, 18, lower=0.93))
    assert sentences.conclusion(missed).startswith("Not shown: all criteria together (satisfied by")
    refuted = replace(kept, acceptance=acceptance(340, 18, lower=0.83, upper=0.88))
    assert "Not kept: all criteria together (satisfied by at most 88" in sentences.conclusion(
        refuted
    )
    free = tuple(replace(one, acceptance=None) for one in good)
    assert "No criteria" in sentences.conclusion(replace(study, outcomes=free, acceptance=None))


def test_the_json_object_is_plain_and_holds_no_samples(record, study):
    reported = json.loads(json.dumps(as_json(study, as_provenance(record)), allow_nan=False))
    assert reported["contract"] == 2
    assert reported["inputs"][0]["sentence"] == "uniform, half width 12 um, about 0.12 mm"
    widened = reported["widenings"][0]
    assert widened["title"] == "inlet tube: bore alone"
    assert widened["inputs"][0]["widest"] == "uniform, half width 18 um, about 0.12 mm"
    scale, acceptance = widened["tried"][0]
    assert (scale, acceptance["met"]) == (0.5, True)
    assert reported["question"]["seed"] == 1
    assert reported["met"] is False
    assert [one["name"] for one in reported["outcomes"]] == [one.name for one in study.outcomes]
    assert reported["outcomes"][0]["acceptance"]["met"] is True
    assert reported["outcomes"][2]["at_least"] is None
    assert "values" not in reported["outcomes"][0]
    assert reported["qualification"][0]["guard"] == 0.033


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
        tables.inputs_table(study),
    ]
    for table in shown:
        for row in table.rows:
            assert typeset(" ".join(" ".join(row).split())) in said, table.title
    checks = tables.qualification_table(study)
    for cell in {cell for row in checks.rows for cell in row}:  # what repeats is said once
        assert typeset(" ".join(cell.split())) in said
    again = checks.once().rows[-1]
    assert all(len(cell) <= CELL or cell not in checks.rows[0] for cell in again)
    for line in (*ALWAYS, "tailrace 9.8", "numpy", "a1b2", "Signature", "JCGM 106:2012", "seed"):
        assert line in said


def test_a_page_from_the_same_record_is_the_same(record, study):
    assert page(record) == page(record)


def test_hostile_names_are_harmless(scenario):
    result = made_up(scenario, NAMES)
    worse = tuple(replace(one, name=f"{one.name} of {HOSTILE}") for one in result.outcomes)
    checks = tuple(replace(one, what=HOSTILE) for one in result.checks)
    warnings = np.full(result.samples, HOSTILE, dtype=object)
    result = replace(result, outcomes=worse, checks=checks, warnings=warnings)
    text = page(recorded(scenario, result, title=HOSTILE, scenario=f'title = "{HOSTILE}"'))
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
    result = made_up(scenario)
    empty = dict.fromkeys(("widenings", "maps", "checks"), ())
    small = replace(result, indices=None, stop=None, **empty)
    record = recorded(scenario, small)
    text = as_text(as_result(record))
    for said in ("Share of the variance", "How wide", "Qualification", "places"):
        assert said not in text
    said = Reader(page(record)).text
    for heading in ("What matters", "How wide tolerances may be", "Qualification"):
        assert heading not in said
    assert "No cross-check by the second solver is in this record" in said


def test_a_limit_is_told_with_all_its_digits(study):
    asked = replace(study.outcomes[0], unit="1", kind="", at_least=11005.0, at_most=float("nan"))
    assert sentences.limits(asked) == "at least 11005"
    pressure = replace(asked, unit="Pa", kind="pressure", at_least=float("nan"), at_most=300.05e5)
    assert sentences.limits(pressure) == "at most 300.05 bar"
    computed = replace(asked, at_least=1.0 / 3.0)
    assert sentences.limits(computed) == "at least 0.3333"


def test_a_guard_band_is_told_with_the_acceptance_limit(text):
    said = " ".join(text.split())
    assert re.search(r"guard band: \S+ s, \S+ times the standard uncertainty of the m", said)
    assert "acceptance limit: at most" in said
    assert "right but not passed at once" in said


def test_an_acceptance_limit_is_rounded_to_be_kept(study):
    """Within the guard band, not by its rounding outside: 11000 + 181 is no less than 11180."""
    plates = replace(study.outcomes[0], unit="1", kind="")
    nothing = float("nan")
    told = [
        sentences.between(plates, low, high, inward=True)
        for low, high in (
            (11000 + 1.6448536269514722 * 110, nothing),
            (nothing, 1.08 - 1.6448536269514722 * 0.004),
            (0.1 + 0.07 / 3, 1 - 0.037 / 3),
            (691.0, nothing),
        )
    ]
    assert told == ["at least 11190", "at most 1.073", "0.1234 to 0.9876", "at least 691.0"]


def test_an_index_has_no_digit_that_its_interval_reaches(study):
    found = study.indices
    shape = found.total.shape
    wide = replace(
        found, total=np.full(shape, 0.434),
        total_low=np.full(shape, 0.335), total_high=np.full(shape, 0.561),
    )  # fmt: skip
    narrow = replace(wide, total_low=np.full(shape, 0.432), total_high=np.full(shape, 0.436))
    assert "(43 %)" in sentences.what_matters(replace(study, indices=wide))[0]
    assert "(43.4 %)" in sentences.what_matters(replace(study, indices=narrow))[0]


@pytest.mark.parametrize(
    ("given", "scale", "text"),
    [
        ({"low": -1e-5, "high": 3e-5}, 1.0, "uniform, from 0.11 mm to 0.15 mm, about 0.12 mm"),
        ({"low": -1e-5, "high": 3e-5}, 2.0, "uniform, from 0.1 mm to 0.18 mm, about 0.12 mm"),
        ({"distribution": "normal", "relative": True, "deviation": 0.05}, 2.0, "deviation 10 %"),
        ({"distribution": "lognormal", "deviation": 0.2}, 1.0, "logarithm 0.2, median 0.12 mm"),
        ({"distribution": "data", "data_values": 5, "data_sha256": "ab" * 32}, 1.0, "5 values"),
        ({"distribution": "trapezoidal", "top": 6e-6}, 1.0, "flat over half a width of 6 um"),
        ({}, 0.0, "exactly 0.12 mm"),
    ],
)
def test_a_distribution_is_described_in_the_units_of_the_trade(study, given, scale, text):
    assert text in sentences.distribution(replace(study.inputs[0], **given), scale)


def test_a_temperature_is_spread_in_kelvin(study):
    warm = {"unit": "K", "quantity": "temperature", "nominal": 308.15, "deviation": 0.5}
    one = replace(study.inputs[0], distribution="normal", **warm)
    assert sentences.distribution(one) == "normal, standard deviation 0.5 K, about 35 degC"


def test_cautions_name_what_is_cut_dependent_or_not_computed(study):
    bore = replace(study.inputs[0], cut=0.13, lowest=1e-6)
    assert sentences.cut(bore).startswith("inlet tube: bore: 13 % of its distribution lies outside")
    assert sentences.cut(study.inputs[0]) == ""
    computed = np.arange(study.samples) > 1
    warnings = np.where(computed, "", "not computed: too wide").astype(object)
    asked = replace(study.question, generator="sobol")
    less = replace(study, question=asked, computed=computed, warnings=warnings, inputs=(bore,))
    cut, dependent, failed = sentences.cautions(less)
    assert "is cut off" in cut
    assert "not independent" in dependent
    assert failed.startswith("2 of 400 samples could not be computed")
    assert failed.endswith("the first: too wide.")


def test_first_order_says_where_it_misleads(study):
    one = study.outcomes[0]
    simulated, summed = sentences.first_order(one)
    assert "it is not linear" in simulated
    assert "the sum misleads" in summed
    assert "probability of acceptance 93 % against" in summed
    fine = replace(one, first_order=replace(one.first_order, misleads=False))
    assert "they agree" in sentences.first_order(fine)[1]
    none = replace(one, first_order=replace(one.first_order, value=float("nan")))
    assert "says nothing of it" in sentences.first_order(none)[1]
    still = replace(one, linearised=replace(one.linearised, allowed=float("nan")))
    assert "does not spread" in sentences.first_order(still)[0]


def test_a_single_instrument_is_never_called_a_population(study):
    study = replace(study, outcomes=study.outcomes[:1])
    kinds = {
        kind: replace(study, inputs=tuple(replace(one, kind=kind) for one in study.inputs))
        for kind in ("tolerance", "knowledge")
    }
    assert "of instruments" in sentences.conclusion(kinds["tolerance"])
    alone = sentences.conclusion(kinds["knowledge"])
    assert "the one instrument" in alone
    assert "of instruments" not in alone
    assert "at random" in sentences.conclusion(study)
    off = replace(kinds["tolerance"], discrepancy=0.05)
    assert "at random" in sentences.conclusion(off)
    assert "own of 5 %" in sentences.discrepancy(off)
    assert "taken as exact" in sentences.discrepancy(study)
    row = replace(study.checks[-1], rule="control limits", basis="control")
    assert "instruments within" in checking.basis(row, kinds["tolerance"])
    assert "drawn for each" in checking.basis(row, off)
    assert "the one instrument" in checking.basis(row, kinds["knowledge"])
    assert "population" not in checking.decision(row, kinds["knowledge"])


@pytest.mark.parametrize(
    ("refused", "samples", "text"),
    [
        ("dependent samples", 400, "independent samples only"),
        ("missing values", 398, "2 samples without a value"),
        ("few samples", 50, "50 of 59 for one limit, of 93 for two"),
    ],
)
def test_why_there_are_no_tolerance_limits(study, refused, samples, text):
    limits = replace(study.outcomes[0].limits, refused=refused, samples=samples)
    assert text in sentences.refused(replace(study.outcomes[0], limits=limits))


def test_a_widening_says_whether_it_is_confirmed_or_none_exists(study):
    alone, _ = study.widenings
    assert "fresh samples confirm it" in sentences.widening(study, alone)
    unsure = replace(alone, fresh=acceptance(380, 18, lower=0.93, upper=0.97))
    assert "samples do not contradict it" in sentences.widening(study, unsure)
    wrong = replace(alone, fresh=acceptance(340, 18, lower=0.83, upper=0.88))
    assert "samples CONTRADICT it" in sentences.widening(study, wrong)
    still = replace(alone, unmoved=("plates of cohumulone",))
    assert "does not move plates of cohumulone, which has" in sentences.widening(study, still)
    assert "nothing can be said" in sentences.widening(study, replace(still, inert=True))
    none = replace(alone, scale=0.0, fresh=None)
    assert "no tolerance, however narrow" in sentences.widening(study, none)


def test_correlated_inputs_are_named_as_one(study):
    names = (" + ".join(one.name for one in study.inputs), "other")
    indices = replace(study.indices, inputs=names)
    assert "correlated" in sentences.what_matters(replace(study, indices=indices))[-1]


def test_a_study_is_handed_on_in_every_form_and_read_back(study, record, tmp_path):
    study.save(tmp_path / "study.h5")
    back = read(tmp_path / "study.h5")
    assert back.question == study.question
    assert back.source == study.source == as_provenance(record)
    assert json.loads(study.to_json())["samples"] == study.samples
    assert study.to_html() == page(record)
    assert study.to_xarray()["outcomes"]["values"].dims == ("outcome", "sample")
    assert study.plot().png()[:4] == b"\x89PNG"
    assert len(repr(study)) < 2_000


def test_fields_are_told_in_words():
    told = {
        "inlet tube.gap_length": "inlet tube: gap length",
        "method.eluent.acetonitrile": "eluent: acetonitrile",
        "solutes.first.diffusivity": "first: diffusivity",
        '"cell 1.2".volume + column.plates': "cell 1.2: volume + column: plates",
    }
    assert {name: in_words(name) for name in told} == told


def test_an_index_alone_above_the_total_is_called_noise(study):
    found = study.indices
    assert not any("Noise" in line for line in sentences.what_matters(study))
    first = found.first.copy()
    first[0, 1] = found.total[0, 1] + 0.02
    noisy = replace(study, indices=replace(found, first=first))
    (line,) = (line for line in sentences.what_matters(noisy) if "Noise" in line)
    assert f"flow cell: volume on {found.outcomes[0]}" in line


def test_a_stop_says_what_it_changes_of_the_standard(study):
    text = sentences.stopped(replace(study.stop, reached=True))
    assert "in place of 10,000" in text


def test_limits_of_the_population_are_no_instrument_s_own(study):
    row = replace(study.checks[-1], rule="control limits", content=0.95)
    text = checking.decision(row, study)
    assert text.startswith("Limits of the population of instruments, and not of this one")
    # Student's t with 5 degrees of freedom: 2.571 times the root of 1 + 1/6
    assert "first series of 6 injections, and 2.78 standard deviations" in text


def test_without_a_drift_the_page_says_that_intervals_have_no_source(study):
    assert "common practice, no source" in drifting.retest(study)
    assert all("no source" in checking.often(one, study) for one in study.checks)


def test_with_a_drift_the_interval_is_its_own(study, scenario):
    found = drift_found()
    text = drifting.retest(replace(study, drifting=found))
    assert "exceeds 5.00 % (taken where [retest] states no other) after 8.62" in text
    assert "it is not exceeded for 7.94 months or 3170 injections" in text
    made = page(recorded(scenario, replace(study, drifting=found)))
    assert "What drifts" in made
    assert "How many fall as they drift" in made
    one = replace(study.checks[0], how="column standard")
    assert "every 7.94 months" in checking.often(one, replace(study, drifting=found))
    alone = replace(found, interval=math.inf, assured=math.inf, first=np.zeros(1))
    assert "does not exceed" in drifting.retest(replace(study, drifting=alone))
    few = drifting.retest(replace(study, drifting=replace(found, assured=0.0)))
    assert "too few to assure" in few


def drift_found():
    """One drift, as found."""
    return Drifting(
        drifts=(
            Drifted(
                name="detector.noise",
                unit="AU",
                quantity="absorbance",
                nominal=2e-5,
                rate=8e-7,
                deviation=2.4e-7,
                because="logbook",
            ),
        ),
        risk=0.05,
        confidence=0.95,
        horizon=18.0,
        injections_per_month=400.0,
        instruments=500,
        kept=500,
        times=np.array([0.0, 9.0, 18.0]),
        fallen=np.array([0.0, 0.054, 0.564]),
        fallen_low=np.array([0.0, 0.036, 0.52]),
        fallen_high=np.array([0.007, 0.078, 0.61]),
        interval=8.62,
        interval_error=Interval(low=7.87, high=9.74, unit="month"),
        assured=7.94,
        criteria=("signal-to-noise ratio",),
        first=np.array([0.564]),
    )
