"""The bench in a browser: the lines of a change as a person types them."""

import tomllib

import pytest
from reference.benches import FOUND

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")

JOINT = "set-5-column_inlet_connection-gap_length"


def change(bench, index=-1):
    return tomllib.loads(bench.scenario)["changes"][index]


def edited(bench, index):
    """Whether the form of a change is open."""
    return bench.run(
        "return document.querySelectorAll('#changes .change > details')[arguments[0]].open", index
    )


def pressed(bench, index, words):
    """A button of a change by its words."""
    bench.run(
        """const change = document.querySelectorAll("#changes .change")[arguments[0]];
        [...change.querySelectorAll("button")].find((one) => one.textContent === arguments[1])
          .click();""",
        index,
        words,
    )
    bench.settled()


def with_a_finer_outlet(bench):
    bench.click("add-change")
    bench.choose("set-6-flow_cell-volume-where", "tube to cell")
    bench.write("set-6-tube_to_cell-bore-value", "0.075 mm")
    bench.write("field-changes-6-name", "finer outlet")
    bench.run("document.activeElement.blur()")


def test_another_value_of_a_change_is_of_the_same_part_and_loses_nothing(bench):
    with_a_finer_outlet(bench)
    apart = change(bench)["excludes"]
    pressed(bench, 6, "Set another value")
    made = change(bench)
    assert list(made["set"]) == ["tube to cell"]
    assert made["set"]["tube to cell"]["bore"] == "0.075 mm"
    assert list(made["set"]["tube to cell"]) == ["bore", "length"]
    assert made["excludes"] == apart == ["narrow tubes"]
    assert edited(bench, 6)
    focused = bench.driver.switch_to.active_element.get_attribute("id")
    assert focused == "set-6-tube_to_cell-length-value"


def test_what_one_line_of_a_change_sets_no_other_line_overwrites(bench):
    with_a_finer_outlet(bench)
    pressed(bench, 6, "Set another value")
    before = change(bench)
    bench.choose("set-6-tube_to_cell-length-key", "bore")
    assert change(bench) == before
    assert "sets bore of tube to cell already to 0.075 mm" in bench.text("said")
    assert bench.find("set-6-tube_to_cell-length-key").get_attribute("value") == "length"
    bench.choose("set-6-tube_to_cell-length-where", "tube to heater")
    assert change(bench)["set"]["tube to cell"] == {"bore": "0.075 mm"}
    bench.choose("set-6-tube_to_heater-bore-where", "tube to cell")
    assert change(bench)["set"] == before["set"]
    assert edited(bench, 6)


def test_a_joint_of_a_change_without_a_gap_is_told_at_its_field(bench):
    bench.run("document.querySelectorAll('#changes .change > details')[5].open = true")
    bench.write(f"{JOINT}-value", "0 mm")
    bench.run("document.activeElement.blur()")
    told = "a joint without a gap: take the part out, or type the gap of a tube that is cut square"
    assert told in bench.text(f"{JOINT}-wrong")
    bench.choose("take-out-5", "column inlet connection")
    made = change(bench, 5)
    assert "set" not in made and made["remove"] == ["column inlet connection"]
    assert edited(bench, 5)
    assert "length of the gap 0 mm) is left out" in bench.text("said")
    bench.click("undo")
    bench.write(f"{JOINT}-value", "0.02 mm")
    bench.run("document.activeElement.blur()")
    assert bench.text(f"{JOINT}-wrong") == ""
    assert change(bench, 5)["set"] == {"column inlet connection": {"gap_length": "0.02 mm"}}
