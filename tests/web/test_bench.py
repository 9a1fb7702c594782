"""The bench in a browser: built, changed, opened, saved by hand; its numbers are the program's."""

import math
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
from reference.benches import FOUND, START, plates
from reference.scenarios import scenario as random_scenario
from reference.slider_pages import settled

import tailrace
from tailrace.journey.migration import by_products
from tailrace.journey.product import multiply
from tailrace.scenario.changed import changed
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.toml import as_toml
from tailrace.studies.improving.solve import improve

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")
FOLDER = Path(__file__).parents[2] / "scenarios"


def test_it_opens_with_answers_that_are_the_program_s_and_asks_for_nothing(bench):
    assert bench.complaints == []
    result = multiply(tailrace.load(START).itinerary())
    bench.visit()
    told = bench.cells("peak")
    for row, name in (
        ("Plates at own retention", "plates_own_retention"),
        ("Tailing", "tailing_5"),
    ):
        expected = result.recorded[name][0]
        assert float(told[row][-1]) == pytest.approx(expected, rel=5e-3)
    pressure = bench.text("whole")
    assert f"{result.pressure.total / 1e5:.0f} bar ± 20 % of 400 bar allowed" in pressure
    parts = bench.cells("parts")
    assert float(parts["flow cell"][3]) == pytest.approx(84.5, abs=0.1)
    assert bench.text("headline").startswith("2411 plates of cohumulone")
    assert bench.requests[-1:] == [bench.page.as_uri()]
    assert {one for one in bench.requests if one.startswith("http")} == set()
    assert bench.page.stat().st_size < 1e6


def test_a_size_as_typed_on_the_bench_changes_the_answer_and_the_file(bench):
    bench.click("row-path-1")
    bench.write("field-path-1-bore", "0.005 in")
    assert 'bore   = "0.005 in"' in bench.scenario
    assert "= 0.127 mm" in bench.text("field-path-1-bore-hint")
    assert bench.plates == pytest.approx(plates(bench.scenario), abs=1)
    bench.write("field-path-1-bore", "0.9 mm")
    assert "Unusual for a heater" in bench.text("field-path-1-bore-hint")
    before = bench.scenario
    bench.write("field-path-1-bore", "0.005")
    bench.run("document.activeElement.blur()")
    assert "a bare number" in bench.text("field-path-1-bore-wrong")
    assert bench.scenario == before
    bench.driver.find_elements("css selector", "#field-path-1-bore-wrong button")[1].click()
    assert 'bore   = "0.005 in"' in bench.scenario


def test_parts_are_moved_doubled_taken_out_and_brought_back(bench):
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys

    first = bench.names
    bench.find("row-path-0").send_keys(Keys.ALT, Keys.ARROW_DOWN)
    assert bench.names == [first[1], first[0], *first[2:]]
    assert bench.driver.switch_to.active_element.get_attribute("id") == "row-path-1"
    assert "needle seat is now 2 of 7" in bench.text("said")
    bench.click("undo")
    assert bench.scenario == START.read_text("utf-8")
    handles = bench.driver.find_elements("css selector", "#path .handle")
    ActionChains(bench.driver).drag_and_drop(handles[0], handles[2]).perform()
    bench.settled()
    assert bench.names[:3] == [first[1], first[2], first[0]]
    bench.click("undo")
    bench.click("row-path-2")
    bench.click("tool-Duplicate-path-2")
    assert bench.names[2:4] == ["column heater", "column heater 2"]
    bench.click("undo")
    bench.click("row-path-2")
    bench.click("tool-Remove-path-2")
    left = tomllib.loads(bench.scenario)
    assert "connect without the heater" not in [one["name"] for one in left["changes"]]
    Scenario.from_text(bench.scenario)
    bench.click("undo")
    assert bench.scenario == START.read_text("utf-8")
    bench.click("redo")
    assert tomllib.loads(bench.scenario) == left


def test_every_usual_part_can_be_added_and_the_program_takes_it(bench):
    count = len(bench.driver.find_elements("css selector", ".choices button"))
    before = set(bench.names)
    bench.run("document.getElementById('row-path-6').click()")
    for place in range(count):
        bench.run("document.querySelectorAll('.choices button')[arguments[0]].click()", place)
    bench.settled()
    assert not bench.find("refused").is_displayed()
    Scenario.from_text(bench.scenario)
    added = set(bench.names) - before
    assert len(added) == count
    assert {"valve", "loop", "union", "guard column", "in-line filter", "restrictor"} <= added


def test_a_new_name_goes_with_the_part_wherever_it_is_spoken_of(bench):
    bench.click("row-path-6")
    bench.write("field-path-6-name", "old cell")
    tables = tomllib.loads(bench.scenario)
    assert tables["path"][6]["name"] == "old cell"
    assert "old cell" in tables["changes"][1]["set"]
    assert "# as the column was measured when it was new" in bench.scenario


def test_changes_are_tried_beside_what_there_is_and_ordered(bench):
    bench.click("tick-1")
    assert bench.text("with") == "Shown with: small flow cell"
    assert "Before: 2411" in bench.text("headline")
    tanks = ", mixed as 2 tanks"
    small = f"13 µL{tanks}; with what is ticked: flow cell, 2.5 µL{tanks}"
    assert small in bench.text("row-path-6")
    expected = changed(tailrace.load(START), ["small flow cell"])
    after = float(multiply(expected.itinerary()).recorded["plates_own_retention"][0])
    row = bench.cells("peak")["Plates at own retention"]
    assert float(row[1]) == pytest.approx(2411, abs=1)
    assert float(row[2]) == pytest.approx(after, abs=1)
    bench.ordered()
    steps = [improve(tailrace.load(START), order=one).steps[1] for one in ("money", "gain")]
    assert f"1. {steps[0].change}; cost {steps[0].cost:g}" in bench.text("staircase")
    assert f"1. {steps[1].change}: +" in bench.text("by-money")
    bench.click("row-path-6")
    assert bench.find("other-1").is_selected()
    bench.click("other-1")
    assert bench.text("with") == ""
    assert bench.text("headline").startswith("2411 plates")
    assert "64 combinations" in bench.text("order-note")


SIGMA = 1.4


def rows_of_a_peak(step=0.05):
    """A Gaussian as a data system exports it that writes commas."""
    rows = [
        f"{k * step / 60:.7f};{math.exp(-(((k * step) - 59) ** 2) / (2 * SIGMA**2)):.6f}"
        for k in range(2400)
    ]
    return "Zeit (min);Signal (mAU)\n" + "\n".join(rows).replace(".", ",")


def test_two_alternatives_for_one_part_exclude_each_other(bench):
    bench.click("row-path-6")
    for _ in range(2):
        bench.click("tool-Add-an-alternative-path-6")
    sets = bench.driver.find_elements("css selector", "#changes .set input")
    bench.write(sets[-1].get_attribute("id"), "1 uL")
    text = bench.scenario
    Scenario.from_text(text)
    small, first, second = (tomllib.loads(text)["changes"][place] for place in (1, 6, 7))
    assert first["name"] != second["name"]
    assert second["set"] == {"flow cell": {"volume": "1 uL"}}
    assert {small["name"], first["name"]} <= {*second["excludes"]}


def test_a_measured_signal_is_laid_over_and_read(bench):
    said = bench.open(rows_of_a_peak(), "run.csv")
    assert "2400 points" in said
    assert len(bench.cells("measured")) == 1
    assert "measured" in bench.text("legend")
    told = bench.cells("peak")
    assert float(told["Width"][-1].split()[0]) == pytest.approx(2.3548 * SIGMA, rel=2e-3)
    assert float(told["Tailing"][-1]) == pytest.approx(1, abs=5e-3)
    bare = rows_of_a_peak().replace("Zeit (min);Signal (mAU)", "Zeit;Signal").encode("utf-16")
    assert "2400 points" in bench.open(bare, "run.csv")
    assert bench.cells("peak")["Width"][-1] == told["Width"][-1]


def test_what_the_page_cannot_compute_it_says(bench):
    text = (FOLDER / "lessons" / "two-tails-a.toml").read_text("utf-8")
    bench.open(text)
    assert "the program has to compute it" in bench.text("refused")
    assert bench.scenario == text
    bench.click("undo")
    assert bench.scenario == START.read_text("utf-8")
    assert bench.find("file-name").get_attribute("value") == START.name
    assert not bench.find("refused").is_displayed()


def test_a_bent_tube_is_computed_and_several_bends_as_if_straight_on_request(bench):
    tables = tomllib.loads(START.read_text())
    tables["path"][1]["bend_radius"] = "30 mm"
    bench.open(as_toml(tables))
    assert not bench.find("refused").is_displayed()
    assert "bend radius 30 mm" in bench.find("instrument").text
    result = by_products(Scenario.from_tables(tables).itinerary())
    plates = result.recorded["plates_own_retention"][0]
    assert bench.text("headline").startswith(f"{plates:.0f} plates")
    del tables["path"][1]["bend_radius"]
    half = {"length": "200 mm", "radius": "20 mm"}
    tables["path"][1]["bends"] = [half, half | {"radius": "40 mm"}]
    bench.open(as_toml(tables))
    assert "in several stretches; the program has to compute it" in bench.text("refused")
    bench.find("refused").find_element("tag name", "button").click()
    bench.settled()
    assert "as if it were straight" in bench.text("warnings")
    assert bench.text("headline").startswith("2411 plates")


SHIPPED = sorted(FOLDER.rglob("*.toml"))


@pytest.mark.parametrize("paths", [SHIPPED[::6], SHIPPED], ids=["some", "all"])
def test_shipped_scenarios_survive_a_round_trip(bench, paths):
    for path in paths:
        text = path.read_text("utf-8")
        assert "is open" in bench.open(text, path.name)
        bench.click("row-path-0")
        bench.click("tool-Duplicate-path-0")
        assert "2" in bench.names[1]
        bench.click("tool-Earlier-path-1")
        bench.click("undo")
        bench.click("undo")
        assert bench.scenario == text, path.name
        if not bench.find("refused").is_displayed():
            told, result = bench.cells("peak"), by_products(tailrace.load(path).itinerary())
            for row, name in (("Asymmetry", "asymmetry_10"), ("Tailing", "tailing_5")):
                assert float(told[row][-1]) == pytest.approx(result.recorded[name][0], rel=6e-3)


def test_the_address_holds_what_was_changed(bench):
    bench.click("row-path-1")
    bench.write("field-path-1-length", "333 mm")
    bench.click("link")
    bench.driver.execute_async_script(
        """const done = arguments[0], area = document.getElementById("offer-text");
        const look = () => area.value.includes("#file=") ? done() : setTimeout(look, 10);
        look();"""
    )
    address = bench.run("return document.getElementById('offer-text').value")
    text = bench.scenario
    bench.visit(address[address.index("#") :])
    assert bench.scenario == text
    assert '"333 mm"' in text
    bench.driver.refresh()
    settled(bench.driver)
    assert bench.scenario == text
    bench.visit("#file=x.toml&s=AAAA")
    assert "cut or damaged" in bench.text("said")


@pytest.mark.parametrize(
    ("found", "written"),
    [
        ("a line break within { }", "eluent = { water = 0.25,\n acetonitrile = 0.75 }"),
        ("a comma before }", "eluent = { water = 0.25, acetonitrile = 0.75, }"),
        ("\\e or \\x", "eluent = { water = 0.25, acetonitrile = 0.75 }\nremark = 'a\\x41'"),
    ],
)
def test_what_the_program_would_not_read_is_refused(bench, found, written):
    text = re.sub("^eluent.*$", lambda _: written.replace("'", '"'), START.read_text(), flags=re.M)
    with pytest.raises(tomllib.TOMLDecodeError):
        tomllib.loads(text)
    assert f"expected TOML 1.0, which the program reads, found {found}" in bench.open(text)
    assert bench.text("headline").startswith("2411 plates")


def test_an_injection_from_a_file_is_computed_once_the_file_is_there(bench, tmp_path):
    pulse = np.exp(-(((np.arange(0, 6, 0.05) - 2) / 0.4) ** 2))
    rows = "time,signal\n" + "\n".join(f"{0.05 * k},{one}" for k, one in enumerate(pulse))
    tables = tomllib.loads(START.read_text())
    tables["injection"] = {"shape": "signal", "file": "pulse.csv"}
    bench.open(as_toml(tables))
    assert "pulse.csv" in bench.text("refused")
    assert "points are what is injected" in bench.open(rows, "pulse.csv")
    (tmp_path / "pulse.csv").write_text(rows)
    (tmp_path / "one.toml").write_text(as_toml(tables))
    result = multiply(tailrace.load(tmp_path / "one.toml").itinerary())
    assert bench.plates == pytest.approx(result.recorded["plates_own_retention"][0], abs=1)


HOSTILE = (
    b"",
    b"\x00\xff\xfe" * 50,
    b"[[path]]\n" * 400,
    b"x = " + b"[" * 5000,
    b'title = "<img src=x onerror=alert(1)>"\n[[path]]\nname = "<script>alert(1)</script>"\n'
    b'part = "tube"\n[method]\n[injection]\n[[solutes]]\nname = "<b>x</b>"\n',
    b'[method]\nflow = { constructor = 1 }\n[injection]\n[[solutes]]\nname = "a"\n'
    b'[[path]]\nname = "__proto__"\npart = "__proto__"\nbore = [1, [2]]\n',
    b'[method]\n__proto__ = { polluted = true }\n[injection]\nshape = "constructor"\n'
    b'[[solutes]]\nname = "a"\n[[path]]\nname = "a"\npart = "toString"\n',
    START.read_bytes().replace(b'"0.17 mm"', b"0.17"),
    START.read_bytes().replace(b'"0.17 mm"', b'"1e400 mm"'),
    START.read_bytes().replace(b'"cohumulone"', b'"<img src=x onerror=alert(1)>"'),
    START.read_bytes().replace(b'"0.17 mm"', b'"55 mm"'),
)
DATA = (
    b"time,signal\n" + b"1,2\n" * 100,
    b"<html><script>alert(1)</script></html>",
    b"0,nan\n1,inf\n" * 40,
    b'<img src=x onerror="alert(1)">,b\n' + b"\n".join(b"%d,%d" % (k, k % 7) for k in range(99)),
)


def survives(bench, content, name, dropped=True):
    """A file that means harm: something is said, nothing is run, the page goes on."""
    assert bench.open(content, name, dropped)
    bench.run("document.getElementById('row-path-0').click()")
    bench.settled()
    state = bench.run(
        """return [window.polluted, {}.polluted, document.querySelectorAll(
          "body img, body iframe, body script:not([type]), body b").length]"""
    )
    assert state == [None, None, 0], (name, content[:200])


def test_files_that_mean_harm_do_none(bench):
    for content in HOSTILE:
        survives(bench, content, "bad.toml")
    for content in DATA:
        survives(bench, content, "bad.csv")
    assert "is open" in bench.open(START.read_bytes())
    assert bench.text("headline").startswith("2411 plates")
    assert [one for one in bench.complaints if "Security" in one] == []


@pytest.mark.parametrize("width", [390, 1440, 3840])
def test_it_fits(bench, width):
    size = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 500}
    bench.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    try:
        bench.visit()
        bench.click("row-path-5")
        assert bench.run("return document.documentElement.scrollWidth") <= width
        chart, look = (
            bench.run("return document.querySelector(arguments[0]).getBoundingClientRect()", one)
            for one in ("#chart canvas", ".look")
        )
        assert chart["width"] <= look["width"] + 1
    finally:
        bench.driver.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def test_the_policy_stops_what_would_leave(bench):
    stopped = bench.driver.execute_async_script(
        """const done = arguments[0];
        addEventListener("securitypolicyviolation", (event) => done(event.effectiveDirective));
        fetch("https://example.invalid/").catch(() => null);"""
    )
    assert stopped == "connect-src"


def rewritten(rng, tables):
    """Tables as a file that a person wrote: with remarks, blank lines and spaces of its own."""
    lines = []
    for line in as_toml(tables).splitlines():
        if line.startswith("[") and rng.random() < 0.3:
            lines.append("# of what follows: [[path]] \"x\" = 'y'")
        key, equals, value = line.partition(" = ")
        line = f"{key:{rng.integers(1, 20)}} = {value}" if equals and line[0] != "[" else line
        lines.append(line + ("   # as measured" if equals and rng.random() < 0.2 else ""))
        lines += [""] * int(rng.random() < 0.1)
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("seeds", [range(3), range(500)], ids=["few", "many"])
def test_random_scenarios_survive_edits(bench, seeds):
    for seed in seeds:
        rng = np.random.default_rng(seed)
        tables = random_scenario(rng)
        text = rewritten(rng, tables)
        assert tomllib.loads(text) == tables
        assert "is open" in bench.open(text)
        assert bench.scenario == text, seed
        count = len(tables["path"])
        one = int(rng.integers(count))
        bench.run(
            """for (const id of arguments[0]) document.getElementById(id).click();""",
            [f"row-path-{one}", f"tool-Duplicate-path-{one}"],
        )
        if one + 2 < count + 1:
            bench.click(f"tool-Later-path-{one + 1}")
        doubled = tables["path"][one]
        stem = re.sub(r" \d+$", "", doubled["name"])
        after = tomllib.loads(bench.scenario)
        place = min(one + 2, count)
        fresh = after["path"][place]
        assert fresh == doubled | {"name": fresh["name"]} and fresh["name"].startswith(stem), seed
        del after["path"][place]
        assert after == tables, seed
        assert bench.scenario.count("# as measured") == text.count("# as measured"), seed
        bench.click("undo")
        if one + 2 < count + 1:
            bench.click("undo")
        assert bench.scenario == text, seed
        if not bench.find("refused").is_displayed():
            result = multiply(Scenario.from_text(text).itinerary())
            shown = float(bench.cells("peak")["Tailing"][-1])
            assert shown == pytest.approx(result.recorded["tailing_5"][0], rel=6e-3), seed


PIECES = (
    *b'" [[ ]] = { } , # \n [] nan true -1 1e308 99999999999999999999 2026-01-01'.split(b" "),
    *(b"'''", b"<script>alert(1)</script>", b'"<img src=x onerror=alert(1)>"'),
    *(b"__proto__", b"constructor", b"\xff\xfe", b"\x00", b'"""'),
)


def test_five_hundred_hostile_files(bench):
    rng = np.random.default_rng(7)
    rows = b"time (s),signal\n" + b"\n".join(b"%d,%d" % (k, (k * 7919) % 13) for k in range(300))
    for case in range(500):
        data = case % 5 == 4
        content = bytearray(rows if data else SHIPPED[case % len(SHIPPED)].read_bytes())
        for _ in range(int(rng.integers(1, 6))):
            start = int(rng.integers(len(content)))
            stop = start + int(rng.integers(0, 12))
            content[start:stop] = PIECES[rng.integers(len(PIECES))]
        survives(bench, bytes(content), "bad.csv" if data else "bad.toml", case % 2 == 0)
    assert "is open" in bench.open(START.read_bytes())
    assert bench.text("headline").startswith("2411 plates")
    assert [one for one in bench.complaints if "Security" in one or "Uncaught" in one] == []
