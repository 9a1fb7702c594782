"""The bench in a browser: begun from nothing, and built of parts that are added in a row."""

import tomllib

import pytest
from reference.benches import FOUND
from selenium.webdriver.common.keys import Keys

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


def test_five_parts_are_added_in_a_row_by_keyboard_with_the_list_open(bench):
    bench.open(EMPTY)
    bench.run("document.querySelector('#adding summary').focus()")
    focused(bench).send_keys(Keys.ENTER)
    seat = bench.find("add-needle-seat")
    seat.send_keys(Keys.ENTER)
    for _ in range(2):
        bench.settled()
        assert bench.find("adding").get_attribute("open")
        assert focused(bench).get_attribute("id") == "add-needle-seat"
        focused(bench).send_keys(Keys.TAB, Keys.SHIFT, Keys.TAB, Keys.NULL)
        top = bench.run("return document.activeElement.getBoundingClientRect().top")
        focused(bench).send_keys(Keys.ENTER)
        bench.settled()
        now = bench.run("return document.activeElement.getBoundingClientRect().top")
        assert now == pytest.approx(top, abs=4)  # under the hand
    for name in ("capillary", "cell"):
        bench.find(f"add-{name}").send_keys(Keys.ENTER)
        bench.settled()
    # where each usually is: seats at the start, what joins them before the column, cells at the end
    parts = [one["name"] for one in tomllib.loads(bench.scenario)["path"]]
    seats = [one for one in parts if one.startswith("needle seat")]
    assert len(seats) == 3
    assert parts == [*seats, "capillary", "column", "cell"]


def test_where_a_part_goes_is_chosen_and_the_next_goes_behind_it(bench):
    first = bench.names
    bench.run("document.getElementById('adding').open = true")
    where = bench.find("add-where")
    options = [one.text for one in where.find_elements("tag name", "option")]
    assert options[:3] == ["where it usually is", f"before 1 {first[0]}", f"behind 1 {first[0]}"]
    bench.choose("add-where", "0")
    bench.click("add-union")
    bench.click("add-valve")
    assert bench.names == ["union", "valve", *first]
    bench.choose("add-where", "3")
    bench.click("add-capillary")
    assert bench.names == ["union", "valve", first[0], "capillary", *first[1:]]
    bench.click("undo")
    bench.click(f"row-path-{len(first)}")
    assert bench.find("add-where").get_attribute("value") == str(len(first) + 1)


def test_parts_in_the_order_of_the_flow_come_to_lie_in_it(bench):
    bench.open(EMPTY)
    bench.run("document.getElementById('adding').open = true")
    bench.driver.find_element("id", "add-where").send_keys("where")
    for name in ("needle seat", "capillary", "in-line filter", "capillary", "cell", "waste line"):
        bench.click(f"add-{name.replace(' ', '-')}")
    names = [one["name"] for one in tomllib.loads(bench.scenario)["path"]]
    first, second = names[:4], names[4:]
    assert first == ["needle seat", "capillary", "in-line filter", "column"]
    assert second == ["capillary 2", "cell", "waste line"]
