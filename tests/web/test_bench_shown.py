"""The bench in a browser: what it says only where it is so, and where it says it."""

import csv
import io

import numpy as np
import pytest
from reference.benches import FOUND, START

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")
KEPT = """window.kept = null;
URL.createObjectURL = (blob) => {
  blob.text().then((text) => { window.kept = text; });
  return "#";
};"""


def signal(noise):
    """Two peaks, the second so low that noise hides its shape."""
    time = np.arange(40.0, 130.0, 0.1)
    heights = 100 * np.exp(-((time - 60) ** 2) / 2) + 10 * np.exp(-((time - 100) ** 2) / 2)
    heights += noise * np.random.default_rng(1).standard_normal(time.size)
    rows = (f"{t:.2f},{height:.5f}" for t, height in zip(time, heights, strict=True))
    return "time (s),signal (mAU)\n" + "\n".join(rows) + "\n"


def test_what_is_not_resolved_is_explained_only_where_something_is_not(bench):
    bench.open(signal(0.001), "run.csv")
    assert "not resolved" not in bench.text("measured").lower()
    assert "tailrace measure" in bench.text("measured")
    bench.open(signal(0.9), "run.csv")
    cells = [one for row in bench.cells("measured").values() for one in row]
    assert "not resolved" in cells
    assert "Not resolved: noise changes it by more than half" in bench.text("measured")


def test_the_curves_are_saved_and_their_points_counted(bench):
    bench.run(KEPT)
    bench.click("curves")
    heads, *rows = csv.reader(io.StringIO(bench.run("return window.kept")))
    assert heads == ["time_s", "recorded", "column_alone", "textbook"]
    assert f"{START.stem}.csv: {len(rows)} points, all of them" in bench.text("said")


def test_what_several_ticked_changes_make_together_is_called_so(bench):
    def heads():
        bench.driver.execute_async_script("setTimeout(arguments[0], 100)")
        cells = "[...document.querySelectorAll('#ticked thead th')]"
        return bench.run(f"return {cells}.map((one) => one.textContent)")

    bench.click("tick-1")
    assert heads()[3] == "after"
    bench.click("tick-2")
    assert heads()[3] == "after, with all of them"


BOX = "return document.querySelector(arguments[0]).getBoundingClientRect()"
SCROLLING = """return [...document.querySelectorAll("body, body *")].filter((one) =>
  ["auto", "scroll"].includes(getComputedStyle(one).overflowY)
  && one.scrollHeight > one.clientHeight + 1 && one.tagName !== "TEXTAREA")
  .map((one) => one.id || one.className)"""


def test_only_the_page_scrolls(bench):
    bench.click("row-path-1")
    bench.click("tick-1")
    assert bench.run("return document.documentElement.scrollHeight > 1.5 * innerHeight")
    assert bench.run(SCROLLING) == []


def test_a_message_stands_in_a_strip_of_its_own_below_all_else(bench):
    bench.run("document.getElementById('said').textContent = ''")
    empty = bench.run(BOX, ".strip")
    bench.click("row-path-1")
    bench.click("tool-Duplicate-path-1")
    assert "is added" in bench.text("said")
    told = bench.run(BOX, ".strip")
    assert [told[one] for one in ("top", "bottom", "left")] == [
        pytest.approx(empty[one], abs=1) for one in ("top", "bottom", "left")
    ]
    assert told["bottom"] == pytest.approx(bench.run("return innerHeight"), abs=1)
    bench.run("scrollTo(0, 1e6)")
    assert bench.run(BOX, "footer")["bottom"] <= bench.run(BOX, ".strip")["top"] + 1
    bench.click("said")
    assert bench.text("said") == ""


def test_the_pump_has_its_place_and_says_why_it_has_no_size(bench):
    shapes = bench.driver.find_elements("css selector", "#ribbon g.part")
    assert shapes[0].text == "pump"
    (row,) = bench.driver.find_elements("css selector", "#instrument li.pump")
    assert "before the injector broadens no peak" in row.text
    assert "gradient" not in row.text
    bench.click("pump-method")
    assert bench.find("row-method-0").get_attribute("aria-expanded") == "true"
    bench.click("row-path-1")
    bench.run("arguments[0].dispatchEvent(new MouseEvent('click', {bubbles: true}))", shapes[0])
    assert bench.find("row-method-0").get_attribute("aria-expanded") == "true"
    bench.click("add-gradient")
    bench.click("pump-gradient")
    assert bench.find("field-gradient-0-dwell_volume").is_displayed()


def test_where_nothing_is_computed_stands_no_empty_frame_and_the_picture_comes_back(bench):
    overloaded = START.parent / "lessons" / "two-tails-a.toml"
    bench.open(overloaded.read_text("utf-8"))
    assert not bench.find("chart").is_displayed()
    bench.open(START.read_text("utf-8"))
    drawn = bench.find("chart").find_element("tag name", "canvas")
    assert drawn.size["width"] > 300
