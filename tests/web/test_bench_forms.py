"""The forms of the bench: each field has a label of the trade, a hint, and an example that fits."""

import pytest
from reference.benches import FOUND

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
