"""The work sheet: complete, alone, and harmless whatever the scenario calls its parts."""

from dataclasses import replace

import pytest
from reference.improvements import CAUTION, NAMES, SCENARIO, expected, improvement, scenario
from reference.pages import Reader

from tailrace.records.provenance import Provenance
from tailrace.report.improvement.sheet import as_sheet
from tailrace.studies.improving.aims import Constraints

PROVENANCE = Provenance(title="A title", scenario_sha256="a1b2c3", scenario="", version="9.8.7")


def sheet(made=None, provenance=PROVENANCE):
    return as_sheet(made or improvement(expected=expected()), provenance)


@pytest.fixture(scope="module")
def reader():
    return Reader(sheet())


def test_steps_stand_in_their_order_with_what_to_do(reader):
    places = [reader.text.index(f"Step {k}:") for k in range(4)]
    assert places == sorted(places)
    for text in (
        "flow cell: volume 13 µL to 2.5 µL",
        "tube to column: bore 0.17 mm to 0.12 mm",
        "detector: time constant 0.2 s to 0.02 s",
        "cost 900; work 30 min; plates +4286 (42.9 %)",
    ):
        assert text in reader.text


def test_parts_to_have_at_hand(reader):
    assert "step 1: flow cell: cell, volume 2.5 µL" in reader.text
    assert "step 2: tube to column: tube, bore 0.12 mm, length 300 mm" in reader.text
    assert "step 3: detector" not in reader.text


def test_cautions_come_before_the_steps(reader):
    first = reader.text.index("Step 0:")
    for phrase in (
        "change control",
        "stop the pump",
        "eye protection",
        "lamp off",
        "far less pressure",
    ):
        assert reader.text.index(phrase) < first
    assert reader.text.index("No joint leaks") > reader.text.index("Step 3:")
    assert f"Caution: {CAUTION}" in reader.text
    assert reader.text.count("Caution:") == 1


def test_what_a_measurement_should_show_has_room_for_what_it_shows(reader):
    assert "1429013570 to 15000" in reader.text
    boxes = [attrs for tag, attrs in reader.elements if attrs.get("class") == "box"]
    assert len(boxes) == len(expected().rows)


def test_where_to_stop_stands_between_the_steps():
    text = Reader(sheet(improvement(expected=expected(), stop_after=2))).text
    assert text.index("Step 2:") < text.index("Stop here") < text.index("Step 3:")
    assert "Stop here" not in Reader(sheet()).text


def test_a_constraint_that_a_step_breaks_is_a_caution():
    result = improvement(expected=expected(), constraints=Constraints(pressure=183e5))
    assert Reader(sheet(result)).text.count("Caution: pressure 185 bar, 2 bar above 183 bar.") == 2


def test_without_steps_it_still_says_what_to_measure():
    result = improvement(expected=expected())
    rows = tuple(row for row in result.expected.rows if row.step == 0)
    result = replace(
        result,
        steps=result.steps[:1],
        best=0,
        stop_after=0,
        outcome="no gain",
        expected=replace(result.expected, rows=rows),
    )
    text = Reader(sheet(result)).text
    assert "Not worth it: no change within the constraints" in text
    assert "Step 0: as it is" in text
    assert "Step 1" not in text


HOSTILE = '<script>alert(1)</script>" onload="alert(1)'


def test_names_stay_names():
    names = (HOSTILE, *NAMES[1:])
    text = SCENARIO.replace('"flow cell"', "'" + HOSTILE + "'")
    result = improvement(names=names, caution="<b>bold</b>", expected=expected())
    # The document's own change has to name the part that the steps of the answer name.
    text = text.replace('name = "small flow cell"', f"name = '{HOSTILE}'")
    steps = [replace(one, of="</p><img src=//a.example/x>") for one in result.steps]
    result = replace(result, scenario=scenario(text), steps=tuple(steps))
    page = sheet(result, replace(PROVENANCE, title="<i>odd</i> & co"))
    read = Reader(page)
    assert "script" not in {tag for tag, _ in read.elements}
    assert "img" not in {tag for tag, _ in read.elements}
    assert not [name for _, attrs in read.elements for name in attrs if name.startswith("on")]
    for said in (HOSTILE, "<b>bold</b>", "</p><img src=//a.example/x>", "<i>odd</i> & co"):
        assert said in read.text
    assert "://" not in page


def test_the_policy_forbids_what_is_not_needed(reader):
    # Content Security Policy Level 3 (W3C), names of the directives from memory
    policies = [
        attrs["content"]
        for _, attrs in reader.elements
        if attrs.get("http-equiv") == "Content-Security-Policy"
    ]
    rules = dict(rule.strip().split(" ", 1) for rule in policies[0].split(";"))
    assert rules == {
        "default-src": "'none'",
        "style-src": "'unsafe-inline'",
        "img-src": "data:",
        "base-uri": "'none'",
        "form-action": "'none'",
    }


def test_the_same_answer_gives_the_same_sheet():
    assert sheet() == sheet()


def test_only_the_solutes_and_pairs_of_the_aim_are_measured_at_the_bench():
    result = improvement(expected=expected())
    more = [replace(row, of="humulone") for row in result.expected.rows if row.of]
    rows = (*result.expected.rows, *more)
    both = replace(result, expected=replace(result.expected, rows=rows))
    assert "humulone: plates" not in Reader(sheet(both)).text.replace("cohumulone", "")
    steps = tuple(replace(one, of="cohumulone/humulone") for one in result.steps)
    assert Reader(sheet(replace(both, steps=steps))).text.replace("cohumulone", "").count(
        "humulone: plates"
    ) == len(steps)
