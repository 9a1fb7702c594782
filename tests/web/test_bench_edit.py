"""The bench in a browser: lines of a change, measured peaks, and answers that are old or small."""

import math
import re
import tomllib

import numpy as np
import pytest
from reference.benches import FOUND
from selenium.webdriver.support.ui import WebDriverWait

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


def test_which_measured_peak_stands_beside_a_solute_is_said(bench):
    rows = "time (s),signal\n" + "\n".join(
        f"{t:.1f},{math.exp(-(((t - 60) / 2) ** 2)) + 2 * math.exp(-(((t - 90) / 2) ** 2)):.6f}"
        for t in np.arange(0, 150, 0.1)
    )
    bench.open(rows, "run.csv")
    bench.choose("lane", "1")
    told = "Beside it stands measured peak 2 of 2, at 90.00 s, the highest"
    assert told in bench.text("said")
    bench.click("measured-0")
    bench.choose("lane", "2")
    assert "measured peak 1 of 2, at 60.00 s, which is ticked" in bench.text("said")


def test_a_faster_response_is_said_to_pass_more_noise(bench):
    """White noise behind a filter of one time constant goes with one over its root."""
    bench.run("document.querySelectorAll('#changes .change > details')[0].open = true")
    was = tomllib.loads(bench.scenario)["detector"]["time_constant"]
    bench.write("set-0-detector-time_constant-value", f"{float(was.split()[0]) / 4:g} s")
    bench.click("tick-0")
    WebDriverWait(bench.driver, 10).until(lambda _: "Noise" in bench.text("whole"))
    assert re.search(r"2\.00 times that before, where it is white: a faster", bench.text("whole"))


def contrast(bench, name):
    """Of letters on the page's ground, by the definition of WCAG 2."""
    script = """const one = document.getElementById(arguments[0]);
    return [getComputedStyle(one).color, getComputedStyle(document.body).backgroundColor];"""

    def luminance(colour):
        parts = np.array([int(one) for one in re.findall(r"\d+", colour)[:3]]) / 255
        linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
        return float(linear @ (0.2126, 0.7152, 0.0722))

    ink, ground = sorted(luminance(one) for one in bench.run(script, name))
    return (ground + 0.05) / (ink + 0.05)


def test_an_answer_of_before_is_grey_and_can_be_read(bench):
    assert contrast(bench, "headline") > 12
    bench.click("row-path-1")
    bench.write("field-path-1-length", "")
    bench.click("row-path-4")
    bench.write("field-path-4-bore", "4.6 mm")
    assert "grey is the last answer" in bench.text("refused")
    assert 4.5 <= contrast(bench, "headline") < 6
    assert "4.6 mm" in bench.text("row-path-4") and "2.1 mm" not in bench.text("row-path-4")


def test_changes_that_bring_little_together_are_hardly_worth_it(bench):
    text = bench.scenario
    head, *rest = text.split("[[changes]]")
    joint = next(one for one in rest if "square cut" in one)
    small = joint.replace("0.02 mm", "0.45 mm")
    bench.open(f"{head}[[changes]]{small}")
    bench.ordered()
    told = re.search(
        r"Hardly worth it: all changes together bring ([\d.]+) % of plates, less than 5 %",
        bench.text("by-money"),
    )
    rows = bench.find("staircase").get_attribute("aria-label")
    start, end = (float(one) for one in re.findall(r", (\d+)(?:;|$)", rows))
    assert float(told[1]) == pytest.approx(100 * (end / start - 1), abs=0.02)


def test_changes_are_weighed_with_a_bent_tube_as_if_it_were_straight(bench):
    text = bench.scenario
    bench.ordered()
    straight = bench.find("staircase").get_attribute("aria-label")
    bent = text.replace('name   = "tube to cell"', 'name   = "tube to cell"\nbend_radius = "2 mm"')
    assert bent != text
    bench.open(bent)
    assert "as if it were straight" in bench.text("refused")
    bench.find("refused").find_element("tag name", "button").click()
    bench.ordered()
    assert "as if tube to cell were straight" in bench.text("by-money")
    assert bench.find("staircase").get_attribute("aria-label") == straight
