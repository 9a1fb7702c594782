"""The bench in a browser: what leads a newcomer, and a gradient from its coming to its going."""

import tomllib
from pathlib import Path

import pytest
from reference.benches import FOUND, Bench, browser

from tailrace.journey.migration import by_products
from tailrace.scenario.scenario import Scenario
from tailrace.web.bench_page import bench_page

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")
START = Path(__file__).parents[2] / "scenarios" / "inherited-core-shell.toml"


@pytest.fixture
def bench(tmp_path):
    page = tmp_path / "bench.html"
    page.write_text(bench_page(START.read_text("utf-8"), START.name), encoding="utf-8")
    with browser(tmp_path / "profile") as driver:
        yield Bench(driver, page, tmp_path).visit()


def test_a_newcomer_is_led(bench):
    bench.click("row-path-1")
    bench.write("field-path-1-volume", "2 uL")
    assert "length" not in tomllib.loads(bench.scenario)["path"][1]
    assert "from the other two" in bench.text("field-path-1-length-hint")
    bench.write("field-path-1-volume", "2")
    bench.run("document.activeElement.blur()")
    assert "Until then 2 uL counts" in bench.text("field-path-1-volume-wrong")
    bench.click("tool-Add-a-part-behind-it-path-1")
    first = bench.driver.switch_to.active_element
    assert first.text.startswith("needle seat")
    bench.run("document.activeElement.click()")
    assert bench.names[2] == "needle seat 2"
    last = len(tomllib.loads(bench.scenario)["solutes"]) - 1
    bench.click(f"row-solutes-{last}")
    bench.write(f"field-solutes-{last}-retention_time", "1.6 min")
    bench.click("add-solute")
    assert tomllib.loads(bench.scenario)["solutes"][-1]["retention_time"] == "1.92 min"
    assert not bench.find("refused").is_displayed()
    assert bench.cells("peak")["Retention time"][-1].endswith(" min")
    column = next(k for k, name in enumerate(bench.names) if name == "column")
    bench.click(f"row-path-{column}")
    bench.write(f"field-path-{column}-plates", "11,000")
    bench.run("document.activeElement.blur()")
    bench.find(f"field-path-{column}-plates-wrong").find_element("tag name", "button").click()
    assert tomllib.loads(bench.scenario)["path"][column]["plates"] == 11000


def test_a_gradient_comes_is_changed_and_goes(bench):
    before = bench.scenario
    bench.click("add-gradient")
    Scenario.from_text(bench.scenario)
    assert "peak capacity" in bench.text("headline")
    bench.write("programme-1-time", "8 min")
    bench.write("programme-1-share", "90")
    bench.write("field-gradient-0-dwell_volume", "600 uL")
    tables = tomllib.loads(bench.scenario)
    assert tables["gradient"]["programme"][1] == {"time": "8 min", "strong": 0.9}
    result = by_products(Scenario.from_tables(tables).itinerary())
    shown = float(bench.cells("peak")["Peak capacity"][-1])
    assert shown == pytest.approx(result.recorded["peak_capacity"][0], rel=1e-3)
    bench.run("document.querySelector('#row-gradient-0-form .tools button').click()")
    bench.settled()
    after = tomllib.loads(bench.scenario)
    assert "gradient" not in after
    for one, other in zip(after["solutes"], tomllib.loads(before)["solutes"], strict=True):
        assert one["retention_factor"] == pytest.approx(other["retention_factor"], rel=1e-3)
    assert bench.text("headline").startswith("2411 plates")
