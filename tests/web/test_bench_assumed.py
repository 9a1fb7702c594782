"""The bench in a browser: what nobody has given stays marked until it is typed or confirmed."""

import tomllib

import pytest
from reference.benches import FOUND, START
from reference.slider_pages import settled

from tailrace.scenario.scenario import Scenario

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")
MARK = "# assumed by the bench: correct or confirm it"


def marked(text):
    """Keys that the file says are assumed."""
    return [line.split("=")[0].strip() for line in text.splitlines() if line.endswith(MARK)]


def add(bench, name):
    bench.run(
        """[...document.querySelectorAll(".choices button")]
        .find((one) => one.querySelector("strong").textContent === arguments[0]).click();""",
        name,
    )
    bench.settled()


def test_a_loop_that_nobody_has_given_is_marked_until_it_is_typed_or_confirmed(bench):
    bench.reshaped("loop")
    assert marked(bench.scenario) == ["loop_bore", "loop_volume"]
    row = "sample loop 2 µL, bore 0.25 mm, holds 20 µL; assumed: loop bore, loop volume"
    assert row in bench.text("row-injection-0")
    granted = "usual values that nobody has given: loop bore 0.25 mm (Injection), loop volume"
    assert granted in bench.text("granted")
    paper = bench.run(
        "return [...document.querySelectorAll('#parts th')].find((one) => one.textContent =="
        " 'injection').parentElement.textContent"
    )
    assert "bore 0.25 mm, holds 20 µL; assumed: loop bore, loop volume" in paper
    Scenario.from_text(bench.scenario)

    bench.write("field-injection-0-loop_bore", "0.17 mm")
    assert marked(bench.scenario) == ["loop_volume"]
    assert "assumed: loop volume" in bench.text("row-injection-0")
    assert not bench.find("field-injection-0-loop_bore-confirm").is_displayed()
    before = tomllib.loads(bench.scenario)
    bench.click("field-injection-0-loop_volume-confirm")
    assert marked(bench.scenario) == []
    assert tomllib.loads(bench.scenario) == before
    assert "nobody has given" not in bench.text("granted")
    assert bench.text("row-injection-0").count("assumed: emptied backwards") == 1
    assert "loop as emptied backwards, since nobody has said" in bench.text("granted")
    bench.click("field-injection-0-emptied-confirm")
    assert tomllib.loads(bench.scenario)["injection"]["emptied"] == "backwards"
    assert "assumed" not in bench.text("row-injection-0")
    assert "emptied" not in bench.text("granted")
    assert not bench.find("field-injection-0-emptied-confirm").is_displayed()
    bench.click("undo")
    bench.click("undo")
    assert marked(bench.scenario) == ["loop_volume"]
    bench.click("undo")
    assert marked(bench.scenario) == ["loop_bore", "loop_volume"]
    bench.click("undo")
    assert bench.scenario == START.read_text("utf-8")


def test_the_mark_goes_with_the_file_and_the_address(bench):
    bench.run("document.getElementById('row-path-0').click()")
    add(bench, "capillary")
    assert marked(bench.scenario) == ["bore", "length"]
    bench.click("tool-Duplicate-path-1")
    bench.click("tool-Later-path-2")
    assert marked(bench.scenario) == ["bore", "length"] * 2
    assert "assumed: bore, length" in bench.text("row-path-3")
    bench.write("field-path-3-bore", "0.1 mm")
    assert "assumed: length" in bench.text("row-path-3")
    text = bench.scenario
    bench.open(text)
    assert bench.scenario == text
    assert "assumed: length" in bench.text("row-path-3")
    bench.click("link")
    bench.driver.execute_async_script(
        """const done = arguments[0], area = document.getElementById("offer-text");
        const look = () => area.value.includes("#file=") ? done() : setTimeout(look, 10);
        look();"""
    )
    address = bench.run("return document.getElementById('offer-text').value")
    bench.visit(address[address.index("#") :])
    settled(bench.driver)
    assert bench.scenario == text
    assert "assumed: bore, length" in bench.text("row-path-1")


def test_a_file_that_is_written_anew_keeps_the_marks(bench):
    """Dotted keys are not edited in place: all of the file is written, without its remarks."""
    text = START.read_text("utf-8").replace('length = "130 mm"', f'length = "130 mm"  {MARK}', 1)
    eluent = "eluent      = { water = 0.25, acetonitrile = 0.75 }"
    dotted = "eluent.water = 0.25\neluent.acetonitrile = 0.75"
    assert eluent in text
    bench.open(text.replace(eluent, dotted))
    bench.click("row-method-0")
    bench.write("eluent-acetonitrile", "60")
    assert "its remarks could not be kept" in bench.text("file-state")
    assert marked(bench.scenario) == ["length"]
    assert "assumed: length" in bench.text("row-path-2")


def test_the_guess_of_a_heater_is_told_while_its_bore_is_one(bench):
    bench.run("document.getElementById('row-path-0').click()")
    add(bench, "heater")
    form = bench.find("row-path-1-form")
    assert "0.17 mm is a guess" in form.text
    bench.write("field-path-1-bore", "0.005 in")
    assert "guess" not in form.text
    assert bench.find("field-path-1-bend_radius").is_displayed()
    bench.write("field-path-1-length", "350 mm")
    assert "“Volume” is emptied. Of bore, length and volume two" in bench.text("said")
    assert "volume" not in tomllib.loads(bench.scenario)["path"][1]


def test_straight_is_said_of_straight_tubes_only(bench):
    text = START.read_text("utf-8")
    bench.open(text.replace("[method]", '[method]\nbend_radius = "50 mm"', 1))
    assert "straight" not in bench.text("granted") + bench.text("sure")
