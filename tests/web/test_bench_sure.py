"""The bench in a browser: how sure the answer and the order are where a way of two is taken."""

import re
import tomllib

import pytest
from reference.benches import FOUND, START
from selenium.webdriver.support.ui import WebDriverWait

from tailrace.journey.product import multiply
from tailrace.scenario.doubts import assumptions_of
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.toml import as_toml
from tailrace.studies.improving.solve import improve

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")


def plates(tables):
    return multiply(Scenario.from_tables(tables).itinerary()).recorded["plates_own_retention"][0]


def waited(bench, found):
    WebDriverWait(bench.driver, 20).until(lambda _: found())


def told(bench):
    """What is said of the order once it is computed."""
    waited(
        bench, lambda: "order" in bench.text("order-sure") and "…" not in bench.text("order-sure")
    )
    return bench.text("order-sure")


def with_loop(**more):
    """2 uL out of a loop of 20 uL of which all is known but how it is emptied."""
    tables = tomllib.loads(START.read_text("utf-8"))
    loop = {"shape": "loop", "volume": "2 uL", "loop_bore": "0.25 mm", "loop_volume": "20 uL"}
    tables["injection"] = loop | more
    smaller = {"name": "loop of 5 uL", "cost": 200, "set": {"injection": {"loop_volume": "5 uL"}}}
    tables["changes"] = [smaller, *tables["changes"][:2]]
    return tables


def by_money(tables):
    found = improve(Scenario.from_tables(tables), "plates", order="money")
    return "; ".join(one.change for one in found.steps[1:])


def test_a_loop_of_which_nobody_says_how_it_is_emptied_is_taken_both_ways(bench):
    tables = with_loop()
    bench.open(as_toml(tables))
    sure = told(bench)
    other = with_loop(emptied="forwards")
    low = 10 * int(plates(other) / 10)
    assert re.search(rf"become {low} to \d+ with the loop emptied forwards", bench.text("spread"))
    assert by_money(tables) != by_money(other)
    assert f"with the loop emptied forwards: {by_money(other)}" in sure
    bench.open(as_toml(with_loop(emptied="backwards")))
    assert "emptied" not in told(bench) + bench.text("spread")


def test_a_cell_that_says_nothing_of_its_mixing_is_taken_both_ways(bench):
    """As the program names it, with both ends."""
    tables = tomllib.loads(START.read_text("utf-8"))
    cell = next(one for one in tables["path"] if one["name"] == "flow cell")
    del cell["tanks"]
    scenario = Scenario.from_text(as_toml(tables))
    named = next(one for one in assumptions_of(scenario) if one.subject == "flow cell")
    bench.open(as_toml(tables))
    told(bench)
    high = re.search(
        r"become \d+ to (\d+) with flow cell not mixed \(read along its axis\)",
        bench.text("spread"),
    )
    assert 0 <= int(high[1]) - named.high[0] < 10
    cell["tanks"] = 1
    bench.open(as_toml(tables))
    assert "not mixed" not in told(bench) + bench.text("spread")


def test_until_it_is_known_how_sure_the_order_is_it_says_so_and_a_sheet_waits_for_it(bench):
    known = told(bench)
    at_once = bench.run(
        """const field = document.getElementById("lane");
        field.dispatchEvent(new Event("change"));
        const soon = document.getElementById("order-sure").textContent;
        dispatchEvent(new Event("beforeprint"));
        const printed = document.getElementById("order-sure").textContent;
        return [soon, printed, document.getElementById("spread").className];"""
    )
    assert at_once == ["How sure the order is: being computed …", known, ""]
