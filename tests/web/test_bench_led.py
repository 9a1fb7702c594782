"""The bench in a browser: what leads a newcomer, and a gradient from its coming to its going."""

import math
import re
import tomllib

import pytest
from reference.benches import FOUND, START, plates

from tailrace.journey.migration import by_products
from tailrace.journey.product import multiply
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.toml import as_toml
from tailrace.web.bench_page import EMPTY

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")


def test_a_newcomer_is_led(bench):
    bench.click("row-path-1")
    bench.write("field-path-1-volume", "2 uL")
    assert "length" not in tomllib.loads(bench.scenario)["path"][1]
    assert "from the other two" in bench.text("field-path-1-length-hint")
    bench.run("document.activeElement.blur()")
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
    bench.write(f"field-path-{column}-plates", "9000")
    bench.run("document.activeElement.blur()")
    bench.find(f"field-path-{column}-plates").clear()
    bench.find(f"field-path-{column}-plates").send_keys("11,000")
    assert tomllib.loads(bench.scenario)["path"][column]["plates"] == 9000
    bench.run("document.activeElement.blur()")
    wrong = bench.find(f"field-path-{column}-plates-wrong")
    assert "9000 counts" in wrong.text
    offered = wrong.find_elements("tag name", "button")
    assert [one.text for one in offered] == ["Use 11000", "Use 11.000"]
    offered[0].click()
    assert tomllib.loads(bench.scenario)["path"][column]["plates"] == 11000
    bench.click("undo")
    assert tomllib.loads(bench.scenario)["path"][column]["plates"] == 9000


BARE = START.with_name("bare-tube.toml").read_text("utf-8")


def add(bench, row, name):
    """A part of the list behind the one in a row; it is open then."""
    if bench.find(f"row-path-{row}").get_attribute("aria-expanded") != "true":
        bench.click(f"row-path-{row}")
    bench.click(f"tool-Add-a-part-behind-it-path-{row}")
    choices = bench.driver.find_elements("css selector", ".choices button")
    next(one for one in choices if one.text.split("\n")[0] == name).click()
    bench.settled()


def test_an_instrument_is_built_from_one_tube(bench):
    bench.open(BARE)
    for row, name in enumerate(("in-line filter", "column", "cell", "capillary", "cell")):
        add(bench, row, name)
        assert not bench.find("refused").is_displayed(), name
    assert "k = 2" not in bench.text("said")
    assert tomllib.loads(bench.scenario)["solutes"][0]["retention_factor"] == 2
    assert "some tens of bar" in bench.text("whole")
    bench.click("row-detector-0")
    assert bench.find("field-detector-0-cell").is_displayed()
    bench.click("row-method-0")
    bench.write("eluent-acetonitrile", "85")
    assert "1.0 mPa*s is given, and counts" in bench.text("eluent-given")
    bench.find("eluent-given").find_element("tag name", "button").click()
    bench.settled()
    assert "viscosity" not in tomllib.loads(bench.scenario)["method"]["eluent"]
    assert bench.plates == pytest.approx(plates(bench.scenario), abs=1)


def test_a_loop_is_what_it_is_injected_from(bench):
    bench.reshaped("loop")
    made = tomllib.loads(bench.scenario)["injection"]
    assert made == {
        "shape": "loop",
        "volume": "2 uL",
        "loop_bore": "0.25 mm",
        "loop_volume": "20 uL",
    }
    assert not bench.find("refused").is_displayed()
    bench.write("field-injection-0-loop_bore", "")
    told = (
        "Injection, loop bore: it is missing; type it, or else both length and volume of the loop"
    )
    assert told in bench.text("refused")
    bench.click("undo")
    bench.click("undo")
    assert bench.scenario == START.read_text("utf-8")
    add(bench, 0, "loop that holds no sample, such as one for parking")
    bench.write("field-path-1-volume", "10 uL")
    bench.click("tool-It-holds-the-sample:-inject-from-it-path-1")
    assert "loop" not in bench.names
    made = tomllib.loads(bench.scenario)["injection"]
    assert made == {
        "shape": "loop",
        "volume": "2 uL",
        "loop_bore": "0.25 mm",
        "loop_volume": "10 uL",
    }
    assert bench.plates == pytest.approx(plates(bench.scenario), abs=1)


def test_a_click_leaves_the_row_where_it_is_or_shows_its_form_beside_the_picture(bench):
    box = "return document.getElementById(arguments[0]).getBoundingClientRect()"
    bench.click("row-path-1")
    bench.run("scrollTo(0, 300)")
    before = bench.run(box, "row-path-4")["top"]
    bench.click("row-path-4")
    after = bench.run(box, "row-path-4")["top"]
    assert 0 < after <= before + 1
    tall = bench.run("return innerHeight")
    assert bench.run(box, "row-path-4-form")["bottom"] <= tall
    chart = bench.run(box, "chart")
    assert chart["top"] > 0 and chart["bottom"] < tall
    bench.click("row-path-4")
    assert bench.run(box, "row-path-4")["top"] == pytest.approx(after, abs=1)


def test_a_name_that_is_taken_is_not_half_taken(bench):
    from selenium.webdriver.common.keys import Keys

    before = bench.names
    bench.click("row-path-1")
    bench.find("field-path-1-name").send_keys(Keys.CONTROL + "a" + Keys.NULL + "column")
    bench.settled()
    assert bench.names == before
    bench.run("document.activeElement.blur()")
    assert "found one that is taken" in bench.text("field-path-1-name-wrong")


def test_typed_times_beside_what_is_pinned(bench):
    bench.click("row-solutes-0")
    bench.write("field-solutes-0-retention_time", "1.6 min")
    bench.run("document.activeElement.blur()")
    bench.click("pin")
    assert not bench.find("refitted").is_displayed()
    bench.click("row-path-1")
    bench.write("field-path-1-length", "2 m")
    told = bench.text("refitted")
    name = tomllib.loads(bench.scenario)["solutes"][0]["name"]
    assert name in told
    assert "before" in told


def test_the_file_is_called_as_its_owner_wants(bench):
    from selenium.webdriver.common.keys import Keys

    assert bench.find("file-name").get_attribute("value") == START.name
    bench.write("title", "Bench 2: caffeine")
    bench.run("document.activeElement.blur()")
    bench.settled()
    assert bench.find("file-name").get_attribute("value") == "bench-2-caffeine.toml"
    bench.find("file-name").send_keys(Keys.CONTROL + "a" + Keys.NULL + "mine\t")
    bench.write("title", "Another")
    bench.click("save")
    assert bench.text("said").startswith("mine.toml")


def test_what_lies_behind_the_cell_presses_on_it(bench):
    told = "no waste line is drawn behind it, so the pressure in it was not checked against its "
    assert f"{told}limit of 60 bar" in bench.text("whole").replace("\n", " ")
    bench.ordered()
    held = (
        "Pressure is held to 400 bar for the whole path. In flow cell it was not checked: no waste"
    )
    assert held in bench.text("order-note")
    assert "limits of pressure" not in bench.text("order-note")
    waste = '[[path]]\nname = "waste"\npart = "tube"\nbore = "0.1 mm"\nlength = "2 m"\n\n'
    text = START.read_text("utf-8").replace("[detector]", waste + "[detector]", 1)
    bench.open(text)
    bench.ordered()
    held = "Pressure is held to 400 bar for the whole path and 60 bar in flow cell. By other aims"
    assert held in bench.text("order-note")
    cell = multiply(Scenario.from_text(text).itinerary()).pressure.cell_inlet
    told = re.search(r"At flow cell\s+([0-9.]+) bar ± 20 %; at most 60 bar", bench.text("whole"))
    assert float(told[1]) == pytest.approx(cell / 1e5, rel=5e-3)
    assert "waste (behind)" in bench.cells("parts")


def test_what_the_page_leaves_to_the_program_it_names(bench):
    from selenium.webdriver.support.ui import WebDriverWait

    bench.open((START.parent / "decide" / "four-columns.toml").read_text("utf-8"))
    assert "only the program uses: columns" in bench.text("file-state")
    WebDriverWait(bench.driver, 10).until(
        lambda _: bench.text("order-note").startswith("Of the column on the path alone")
    )
    assert "Squirrel" in bench.find("licences").get_attribute("textContent")


def test_a_gradient_comes_is_changed_and_goes(bench):
    before = bench.scenario
    bench.click("add-gradient")
    Scenario.from_text(bench.scenario)
    assert "peak capacity" in bench.text("headline")
    assert "400 uL is assumed" in bench.text("warnings")
    bench.write("programme-1-time", "7")
    assert "with a unit" in bench.text("programme-wrong")
    assert not bench.find("refused").is_displayed()
    bench.write("programme-1-time", "8 min")
    bench.write("programme-1-share", "90")
    bench.write("field-gradient-0-dwell_volume", "600 uL")
    assert "is assumed" not in bench.text("warnings")
    tables = tomllib.loads(bench.scenario)
    assert tables["gradient"]["programme"][1] == {"time": "8 min", "strong": 0.9}
    result = by_products(Scenario.from_tables(tables).itinerary())
    shown = float(bench.cells("peak")["Peak capacity"][-1])
    assert shown == pytest.approx(result.recorded["peak_capacity"][0], rel=1e-3)
    bench.run("document.querySelector('#row-gradient-0-form .tools button').click()")
    bench.settled()
    after = tomllib.loads(bench.scenario)
    assert "gradient" not in after
    assert after["solutes"] == tomllib.loads(before)["solutes"]
    assert bench.text("headline").startswith("2411 plates")


def test_rows_say_what_is_packed_washed_out_and_filtered(bench):
    assert "core-shell" in bench.text("row-path-4")
    assert "fitting" not in bench.text("row-path-3")
    assert re.search(r"(time constant|rise time) [0-9.]+ m?s", bench.text("row-detector-0"))
    tables = tomllib.loads(bench.scenario)
    tables["injection"] = {"shape": "washout", "volume": "2 uL", "washout_volume": "1.2 uL"}
    guard = tables["path"][4] | {"name": "guard column", "length": "5 mm"}
    tables["path"].insert(4, guard | {"particle": "fully porous"})
    bench.open(as_toml(tables))
    assert "washed out of 1.2 µL" in bench.text("row-injection-0")
    assert "fully porous" in bench.text("row-path-4")
    assert "plates are told of all 2 columns together" in bench.text("row-path-4")


def test_a_measured_signal_that_is_not_seen_is_said_to_lie_outside(bench):
    rows = "time (s),signal\n" + "\n".join(
        f"{900 + 0.1 * k:.1f},{math.exp(-(((0.1 * k - 60) / 2) ** 2)):.6f}" for k in range(1200)
    )
    assert "lies outside the time that is drawn" in bench.open(rows, "late.csv")
    assert bench.find("aligned").is_displayed()


def test_slips_that_can_mean_one_thing_are_taken_for_it(bench):
    """A mark of inches, degrees without their name, and per cent where per cent are asked."""
    bench.click("row-path-1")
    bench.write("field-path-1-bore", '.007"')
    assert 'bore   = ".007 in"' in bench.scenario
    assert "= 0.1778 mm" in bench.text("field-path-1-bore-hint")
    bench.run("document.activeElement.blur()")
    assert bench.find("field-path-1-bore").get_attribute("value") == ".007 in"
    bench.click("row-method-0")
    for typed, kept, hint in (("35 C", "35 degC", "= 35 °C"), ("95 F", "95 degF", "= 35 °C")):
        bench.write("field-method-0-temperature", typed)
        assert tomllib.loads(bench.scenario)["method"]["temperature"] == kept
        assert hint in bench.text("field-method-0-temperature-hint")
    bench.write("eluent-acetonitrile", "50 %")
    assert tomllib.loads(bench.scenario)["method"]["eluent"]["acetonitrile"] == 0.5
    assert bench.text("eluent-wrong") == ""
    Scenario.from_text(bench.scenario)


def test_an_empty_instrument_is_among_what_one_begins_with(bench):
    bench.run(
        "const list = document.getElementById('examples'); list.value = '0';"
        "list.dispatchEvent(new Event('change'));"
    )
    bench.settled()
    scenario = tomllib.loads(bench.scenario)
    assert scenario["title"].startswith("An empty instrument")
    assert [one["part"] for one in scenario["path"]] == ["column"]
    assert not {"limits", "changes", "accept", "uncertain"} & set(scenario)
    assert bench.text("headline").startswith(f"{plates(EMPTY):.0f} plates of solute")
    granted = bench.text("granted")
    assert granted.startswith(
        "Taken for granted: usual values that nobody has given: flow 0.4 mL/min"
    )
    assert "plates of column as a good bed" in granted


def test_what_is_taken_for_granted_stands_below_the_answer(bench):
    told = (
        "all tubes lie straight (where one is bent, type its bend radius beside bore and length);"
    )
    given = "plates of the column are those that are given."
    assert bench.text("granted") == f"Taken for granted: {told} {given}"
    bent = 'bore   = "0.17 mm"\nbend_radius = "50 mm"'
    bench.open(START.read_text("utf-8").replace('bore   = "0.17 mm"', bent, 1))
    assert "3 of 4 tubes lie straight" in bench.text("granted")
    lines = START.read_text("utf-8").splitlines()
    bench.open("\n".join(line for line in lines if "tanks " not in line))
    assert "flow cell as one stirred volume, which adds its volume squared" in bench.text("granted")


def test_the_sheet_of_a_drag_that_was_broken_off_goes(bench):
    for event in ("KeyboardEvent('keydown', {key: 'Escape'})", "PointerEvent('pointerdown')"):
        bench.run(
            "const files = new DataTransfer(); files.items.add(new File(['x'], 'a.csv'));"
            "dispatchEvent(new DragEvent('dragover', {dataTransfer: files, cancelable: true}));"
        )
        assert bench.find("drop").is_displayed()
        bench.run(f"dispatchEvent(new {event})")
        assert not bench.find("drop").is_displayed()
