"""The bench in a browser: changes as a person makes them; what stays where a value is missing."""

import re
import tomllib

import numpy as np
import pytest
from reference.benches import FOUND, START, plates
from selenium.webdriver.support.ui import WebDriverWait

import tailrace
from tailrace.journey.product import multiply
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.toml import as_toml
from tailrace.studies.improving.solve import improve

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")


def changes(bench):
    return tomllib.loads(bench.scenario)["changes"]


def gain(bench, index):
    return bench.run(
        "return document.querySelectorAll('#changes .change')[arguments[0]].textContent", index
    )


def waited(bench, found):
    WebDriverWait(bench.driver, 10).until(lambda _: found())


def with_a_loop(bench, loop):
    """20 uL out of a loop of 20 uL; a change of the loop as it is offered, with this volume."""
    bench.reshaped("loop")
    bench.write("field-injection-0-volume", "20 uL")
    bench.run("document.activeElement.blur()")
    bench.settled()
    waited(bench, lambda: "injection" in bench.text("headline"))
    bench.click("add-change")
    bench.write("set-6-injection-loop_volume-value", loop)


def test_a_change_begins_with_what_costs_most_and_is_called_after_it(bench):
    bench.click("add-change")
    made = changes(bench)[-1]
    assert made["set"] == {"flow cell": {"volume": "13 uL"}}
    assert made["name"] == "other flow cell"
    assert made["excludes"] == ["small flow cell"]
    assert "costs 0, 30 min (assumed)" in gain(bench, 6)
    bench.choose("set-6-flow_cell-volume-where", "tube to heater")
    assert changes(bench)[-1]["name"] == "other tube to heater"
    assert "small flow cell" not in changes(bench)[-1].get("excludes", [])
    bench.click("undo")
    assert changes(bench)[-1] == made
    bench.write("field-changes-6-name", "a finer cell")
    bench.run("document.activeElement.blur()")
    bench.choose("set-6-flow_cell-volume-where", "tube to cell")
    assert changes(bench)[-1]["name"] == "a finer cell"
    bench.write("field-changes-6-cost", "400")
    bench.write("field-changes-6-effort", "1 h")
    assert "assumed" not in gain(bench, 6)


def test_a_smaller_loop_is_filled_and_no_more(bench):
    with_a_loop(bench, "2 uL")
    assert changes(bench)[-1]["set"] == {"injection": {"loop_volume": "2 uL", "volume": "2 uL"}}
    assert "less than the 20 µL that are injected: the change injects 2 µL" in bench.text("said")
    Scenario.from_text(bench.scenario)
    bench.write("set-6-injection-loop_volume-value", "50 uL")
    assert changes(bench)[-1]["set"] == {"injection": {"loop_volume": "50 uL"}}
    bench.write("set-6-injection-loop_volume-value", "5 uL")
    bench.write("set-6-injection-volume-value", "3 uL")
    bench.write("set-6-injection-loop_volume-value", "4 uL")
    assert changes(bench)[-1]["set"] == {"injection": {"loop_volume": "4 uL", "volume": "3 uL"}}


def test_what_a_smaller_injection_does_to_the_signal_is_said_wherever_it_is_told(bench):
    told = "90 % less is injected, of the same sample: for the signal take 0.10 times the heights"
    with_a_loop(bench, "2 uL")
    assert told in gain(bench, 6)
    waited(bench, lambda: told in bench.text("order-note"))
    assert "The order weighs plates, not the signal." in bench.text("order-note")
    assert told not in gain(bench, 1)
    tables = tomllib.loads(bench.scenario)
    bench.click("tick-6")
    assert told in bench.text("with")
    heights = []
    for volume in ("20 uL", "2 uL"):
        sizes = {"volume": volume, "loop_volume": volume}
        changed = tables | {"injection": tables["injection"] | sizes, "changes": []}
        result = multiply(Scenario.from_tables(changed).itinerary())
        heights.append(float(result.recorded["height"][0]))
    times = 0.1 * heights[1] / heights[0]
    waited(bench, lambda: "Signal of" in bench.text("whole"))
    assert f"{times:.3g} times that before: 90 % less is injected" in bench.text("whole")


def test_one_change_that_cannot_be_computed_leaves_the_others_their_numbers(bench):
    with_a_loop(bench, "5 uL")
    bench.write("set-6-injection-volume-value", "9 uL")
    waited(bench, lambda: "cannot be computed" in gain(bench, 6))
    told = "Injection, volume: 9.00 µL are to be injected, and the loop holds 5.00 µL; inject no"
    assert told in gain(bench, 6)
    assert "the change can set the volume of the injection, too" in gain(bench, 6)
    assert "share of all together" in gain(bench, 1)
    bench.ordered()
    assert bench.text("order-note").startswith("Without “other sample loop” (Injection, volume:")
    bench.click("tick-6")
    assert "grey is the last answer" in bench.text("refused")


def test_the_last_answer_stays_where_one_value_is_missing(bench):
    before = bench.text("headline"), bench.cells("peak")
    bench.click("row-path-1")
    bench.write("field-path-1-length", "")
    told = "tube to heater, length: it is missing; type it"
    assert told in bench.text("refused")
    assert "grey is the last answer" in bench.text("refused")
    assert (bench.text("headline"), bench.cells("peak")) == before
    assert bench.find("chart").is_displayed()
    faded = "return getComputedStyle(document.getElementById(arguments[0])).filter"
    assert bench.run(faded, "headline") == "grayscale(1)"
    bench.find("refused").find_element("tag name", "button").click()
    focused = bench.driver.switch_to.active_element.get_attribute("id")
    assert focused == "field-path-1-length"
    bench.write("field-path-1-length", "300 mm")
    assert not bench.find("refused").is_displayed()
    assert bench.run(faded, "headline") == "none"
    assert bench.plates == pytest.approx(plates(bench.scenario), abs=1)


def test_a_loop_that_may_count_twice_is_told(bench):
    text = START.read_text("utf-8")
    loop = '[[path]]\nname = "loop"\npart = "tube"\nbore = "0.25 mm"\nvolume = "20 uL"\n\n'
    bench.open(text.replace("[[path]]", f"{loop}[[path]]", 1))
    assert "counts twice" not in bench.text("warnings")
    bench.reshaped("loop")
    assert "loop: the sample is injected from a loop" in bench.text("warnings")
    assert "it counts twice" in bench.text("warnings")


GUARD = """[[path]]
name = "guard"
part = "column"
bore = "2.1 mm"
length = "5 mm"
particle_diameter = "2.7 um"
particle = "core-shell"

"""


def test_two_columns_without_plates_are_lower_and_higher_beside_what_is_assumed(bench):
    text = START.read_text("utf-8")
    given = next(line for line in text.splitlines() if line.startswith("plates "))
    at = text.index('[[path]]\nname       = "column inlet connection"')
    bench.open(text[:at] + GUARD + text[at:].replace(given + "\n", ""))
    bench.reshaped("loop")
    waited(bench, lambda: "assumed outside the column" in bench.text("spread"))
    told = re.search(r"become (\d+) to (\d+) with plates of all columns", bench.text("spread"))
    tables = tomllib.loads(bench.scenario)
    columns = [one for one in tables["path"] if one["part"] == "column"]
    own = []
    for one in columns:
        alone = {key: tables[key] for key in ("method", "injection", "solutes")} | {"path": [one]}
        result = multiply(Scenario.from_tables(alone).itinerary())
        own.append(float(result.column_alone["plates_half_height"][0]))
    ends = []
    for share in (0.9, 1.1):
        for one, plates_of in zip(columns, own, strict=True):
            one["plates"] = round(share * plates_of)
        ends.append(by_program(tables))
    assert [int(one) for one in told.groups()] == pytest.approx(ends, rel=5e-3)


def by_program(tables):
    return multiply(Scenario.from_tables(tables).itinerary()).recorded["plates_own_retention"][0]


def test_how_sure_the_answer_is_stands_beside_it(bench):
    assert "no measured instrument has been compared" in bench.text("doubt")
    waited(bench, lambda: "become" in bench.text("spread"))
    tables = tomllib.loads(bench.scenario)
    column = next(one for one in tables["path"] if one["part"] == "column")
    given = column["plates"]
    ends = []
    for share in (0.9, 1.1):
        column["plates"] = round(given * share)
        ends.append(by_program(tables))
    low, high = 10 * np.floor(ends[0] / 10), 10 * np.ceil(ends[1] / 10)
    told = f"The 2411 become {low:.0f} to {high:.0f} with plates of the column 10 % lower"
    assert told in bench.text("spread")


def ranked(bench, cost):
    """A loop of 5 uL in place of 20 uL, a small cell and a fast detector; the tables of it."""
    bench.reshaped("loop")
    bench.write("field-injection-0-volume", "20 uL")
    text = bench.scenario
    tables = tomllib.loads(text)
    loop = {"name": "loop of 5 uL", "cost": cost, "set": {"injection": {}}}
    loop["set"]["injection"] = {"volume": "5 uL", "loop_volume": "5 uL"}
    tables["changes"] = [loop, tables["changes"][1], tables["changes"][0]]
    bench.open(text[: text.index("[[changes]]")] + as_toml({"changes": tables["changes"]}))
    bench.ordered()
    return tables


def texts(bench, selector):
    script = "return [...document.querySelectorAll(arguments[0])].map((one) => one.textContent)"
    return bench.run(script, selector)


def test_the_order_says_where_it_turns(bench):
    """What is assumed of a loop decides, and the program turns the order at the same bore."""
    tables = ranked(bench, 900)
    waited(bench, lambda: bench.text("order-sure").startswith("The order by money"))
    orders = {}
    # the page cannot compute with 1 mm, and takes what lies between that and what is assumed
    for bore in ("0.1 mm", "0.25 mm", "0.5 mm"):
        tables["injection"]["loop_bore"] = bore
        found = improve(Scenario.from_tables(tables), "plates", order="money")
        orders[bore] = "; ".join(one.change for one in found.steps[1:])
    assert orders["0.1 mm"] == orders["0.5 mm"] != orders["0.25 mm"]
    told = [f"with loop bore {bore} (Injection): {orders[bore]}" for bore in ("0.1 mm", "0.5 mm")]
    assert f"it is another {told[0]}; and {told[1]}." in bench.text("order-sure")
    assert bench.text("order-sure").endswith(
        "With loop bore 1 mm (Injection) the page cannot compute it (with loop of 5 uL: The "
        "liquid in the loop mixes across it less, or more, than the table of this page holds: "
        "Fourier number outside 0.003 to 100); in its place stands loop bore 0.5 mm (Injection)."
    )
    bench.click("row-injection-0")
    bench.click("field-injection-0-loop_bore-confirm")
    waited(bench, lambda: "stays as it is" in bench.text("order-sure"))


def test_what_to_buy_first_stands_beside_what_brings_most(bench):
    tables = ranked(bench, 900)
    tables["injection"]["loop_bore"] = "0.25 mm"
    paid, soon = (
        improve(Scenario.from_tables(tables), "plates", order=one).steps[1:]
        for one in ("money", "gain")
    )
    assert [one.change for one in paid] != [one.change for one in soon]
    assert "most plates for the money soonest" in bench.text("order-title")
    lists = texts(bench, "#by-money li")
    for k, (bought, done) in enumerate(zip(lists[:3], lists[3:], strict=True)):
        worth = f"{paid[k].gain / paid[k].cost:.2g} plates" if paid[k].cost else "costs nothing"
        assert bought.startswith(f"{k + 1}. {paid[k].change}: {worth}")
        assert done.startswith(f"{k + 1}. {soon[k].change}: +")
    assert "They differ because the first counts" in bench.text("by-money")
    assert "need not fall from line to line" in bench.text("by-money")
    drawn = [one.split(";")[0] for one in texts(bench, "#staircase text")[2::2]]
    assert drawn == [f"{k + 1}. {one.change}" for k, one in enumerate(paid)]


def test_what_nobody_has_priced_is_not_ranked_by_money(bench):
    tables = ranked(bench, 900)
    bench.click("row-path-0")
    bench.run(
        "[...document.querySelectorAll('#instrument button')]"
        ".find((one) => one.textContent === 'Add an alternative').click()"
    )
    name, part = changes(bench)[-1]["name"], tables["path"][0]["name"]
    spaced = part.replace(" ", "_")
    bench.choose(f"set-3-{spaced}-{next(iter(changes(bench)[-1]['set'][part]))}-key", "bore")
    bench.write(f"set-3-{spaced}-bore-value", "0.12 mm")
    waited(bench, lambda: f"that of {name} is assumed" in bench.text("by-money"))
    assert "what they cost is not weighed" in bench.text("order-title")


def test_the_injection_has_its_place_and_colour_in_the_picture(bench):
    bench.reshaped("loop")
    bench.write("field-injection-0-volume", "20 uL")
    bench.settled()
    drop = "document.querySelector('#ribbon [data-row=injection]')"
    waited(bench, lambda: "cost-4" in bench.run(f"return {drop}.innerHTML"))
    bench.click("row-path-2")
    bench.run(f"{drop}.dispatchEvent(new MouseEvent('click', {{bubbles: true}}))")
    assert bench.find("row-injection-0").get_attribute("aria-expanded") == "true"


def test_with_all_that_is_said_of_how_sure_it_is_one_sheet(bench):
    from selenium.common.exceptions import WebDriverException

    with_a_loop(bench, "5 uL")
    waited(bench, lambda: "it is another" in bench.text("order-sure"))
    paper = {"preferCSSPageSize": True, "printBackground": True}
    bench.driver.execute_cdp_cmd("Page.printToPDF", paper | {"pageRanges": "1"})
    with pytest.raises(WebDriverException, match=r"[Pp]age range"):
        bench.driver.execute_cdp_cmd("Page.printToPDF", paper | {"pageRanges": "2"})


def test_what_is_apart_already_needs_no_purchase_and_it_is_said(bench):
    bench.ordered()
    pairs = {name: float(row[-2]) for name, row in bench.cells("pairs").items()}
    assert min(pairs.values()) < 2
    assert "nothing has to be bought" not in bench.text("by-money")
    bench.click("row-solutes-1")
    told = bench.text("said")
    assert told == "The answers are now those of humulone."
    bench.write("field-solutes-1-retention_factor", "3.6")
    waited(bench, lambda: "nothing has to be bought" in bench.text("by-money"))
    result = multiply(Scenario.from_text(bench.scenario).itinerary())
    apex, width = (result.recorded[name] for name in ("apex", "width_half"))
    apart = min(1.18 * np.diff(apex) / (width[1:] + width[:-1]))
    told = re.search(r"apart as it is: resolution ([0-9.]+), where", bench.text("by-money"))
    assert float(told[1]) == pytest.approx(apart, rel=5e-3)


def test_times_of_parts_add_up_to_that_of_the_peak(bench):
    result = multiply(tailrace.load(START).itinerary())
    times = [float(row[2]) for row in bench.cells("parts").values()]
    assert sum(times) == pytest.approx(float(result.recorded["mean"][0]), rel=1e-3)
    assert min(times) > 0
