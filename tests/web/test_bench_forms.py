"""The forms of the bench: each field has a label of the trade, a hint, and an example that fits."""

import tomllib

import pytest
from reference.benches import FOUND, START

from tailrace.web.facts import facts

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")
FIELDS = """return [...document.querySelectorAll("#instrument .field")].map((one) => [
  one.querySelector("label").firstChild.textContent,
  one.querySelector(".hint")?.textContent ?? "",
  one.querySelector("input[type=text]")?.placeholder ?? ""])"""
KEYS = [
    "stated_temperature",
    "noise_time_constant",
    "plates_flow",
    "plates_include_head",
    "averaged",
    "unswept",
    "kinetics",
    "sampling_phase",
    "needs_temperature_control",
    "core_ratio",
    "sample_retention_factor",
]
SELF = ("How it is injected", "water, %", "acetonitrile, %", "methanol, %")


def fields(bench):
    """Label, hint and example of each field of each row, by the name of the row."""
    rows = bench.run(
        "return [...document.querySelectorAll('#instrument .open')].map((one) => one.id)"
    )
    told = {}
    for row in rows:
        if bench.find(row).get_attribute("aria-expanded") != "true":
            bench.click(row)
        told[row] = bench.run(FIELDS)
    return told


def test_every_field_of_every_part_says_what_it_is(bench):
    bench.run("document.getElementById('row-path-6').click()")
    for place in range(len(facts()["usual"])):
        bench.run("document.querySelectorAll('.choices button')[arguments[0]].click()", place)
    told = fields(bench)
    assert len(told) > 20
    labels = [one[0] for one in told["row-method-0"]]
    assert {"Flow rate", "Temperature", "Viscosity"} <= {*labels}
    for row, some in told.items():
        for label, hint, _ in some:
            assert hint.endswith((".", ". ")) or label in SELF, (row, label)
            assert label.lower().replace(" ", "_") not in KEYS, (row, label)


def test_an_example_is_one_of_this_part(bench):
    bench.click("row-path-4")
    bench.write("field-path-4-bore", "")
    assert bench.find("field-path-4-bore").get_attribute("placeholder") == "such as 2.1 mm"
    bench.write("field-path-4-bore", "0.02 mm")
    assert "Unusual for a column" in bench.text("field-path-4-bore-hint")


def test_units_are_printed_as_in_the_trade(bench):
    assert "35 °C" in bench.text("row-method-0")
    bench.click("row-method-0")
    bench.write("field-method-0-viscosity", "0.45 mPa*s")
    assert "viscosity 0.45 mPa·s" in bench.text("row-method-0")


def test_of_another_volume_there_is_as_much_of_the_sample_as_it_holds(bench):
    """Twice the volume of a sample: twice the amount; while it is typed, and back again."""
    text = START.read_text("utf-8")
    bench.open(text.replace("[[solutes]]", '[[solutes]]\namount = "3 nmol"'))
    bench.click("row-injection-0")

    def amounts():
        return {one["amount"] for one in tomllib.loads(bench.scenario)["solutes"]}

    for typed in ("1", "1 uL", "10 uL"):  # one step
        bench.write("field-injection-0-volume", typed)
    assert "the amounts of the solutes go with the injected volume" in bench.text("said")
    assert amounts() == {"15 nmol"}
    bench.write("field-injection-0-volume", "1 uL")
    assert amounts() == {"1.5 nmol"}
    bench.click("undo")
    bench.click("undo")
    assert amounts() == {"3 nmol"}


def test_names_are_typed_as_names(bench):
    names = "small flow cell; faster detector"
    bench.write("field-changes-2-excludes", names)
    assert tomllib.loads(bench.scenario)["changes"][2]["excludes"] == names.split("; ")
    bench.click("undo")
    bench.click("redo")
    assert bench.find("field-changes-2-excludes").get_attribute("value") == names
