"""The bench in a browser: begun from nothing, and built of parts that are added in a row."""

import tomllib

import pytest
from reference.benches import FOUND

from tailrace.web.bench_page import EMPTY

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")


def focused(bench):
    return bench.driver.switch_to.active_element


def test_an_untouched_example_says_so_and_offers_an_empty_instrument(bench):
    line = bench.find("example")
    assert line.is_displayed()
    bench.click("tick-1")
    assert not line.is_displayed()
    bench.click("tick-1")
    assert line.is_displayed()
    bench.click("row-path-1")
    bench.write("field-path-1-bore", "0.2 mm")
    assert not line.is_displayed()
    bench.click("undo")
    assert line.is_displayed()
    bench.click("empty")
    assert bench.scenario == EMPTY
    assert not line.is_displayed()
    assert focused(bench).text == "Add a part"
    bench.click("undo")
    bench.click("go-on")
    assert not line.is_displayed()
    assert focused(bench).get_attribute("id") == "row-method-0"
    assert tomllib.loads(bench.scenario)["path"][0]["name"] == "needle seat"
