"""What a student did to a lesson's page is kept, and seen whole: on paper, in units, in noise."""

import json
import re

import numpy as np
import pytest
from reference import slider_pages
from reference.benches import FOUND, browser
from reference.pens import curve, watched
from reference.tree import ROOT

PAGE = ROOT / "scenarios" / "pages" / "lessons.html"
UNLOCK = """for (const one of document.querySelectorAll(".question"))
  one.querySelector("input").click();
document.getElementById("lock").click();"""
TYPED = """const box = document.getElementById("value-0");
box.value = arguments[0];
box.dispatchEvent(new Event("change"));
return box.value;"""


@pytest.fixture(scope="module")
def driver(tmp_path_factory):
    if FOUND is None:
        pytest.skip("needs chromium and chromedriver")
    with browser(tmp_path_factory.mktemp("kept")) as one:
        yield watched(one)


def opened(driver, fragment):
    driver.get("about:blank")
    slider_pages.opened(driver, f"{PAGE.as_uri()}#{fragment}")
    driver.execute_script(UNLOCK)


def click(driver, selector, at=0):
    driver.execute_script(
        "document.querySelectorAll(arguments[0])[arguments[1]].click()", selector, at
    )


def test_what_is_unfolded_stays_so_on_another_instrument_until_it_is_folded(driver):
    opened(driver, "lesson=hidden-joint")
    told = (
        "return [...document.querySelectorAll('.fill .told')].filter((one) => !one.hidden).length"
    )
    unfolded = "return document.querySelectorAll('section > details[open]').length"
    click(driver, ".tell")
    click(driver, "section > details > summary")
    driver.execute_async_script("setTimeout(arguments[0], 300)")
    was = [driver.execute_script(one) for one in (told, unfolded)]
    assert was == [12, 1]
    click(driver, "[data-version]", 1)
    driver.execute_async_script("setTimeout(arguments[0], 400)")
    assert "version=1" in driver.current_url
    assert [driver.execute_script(one) for one in (told, unfolded)] == was
    click(driver, ".tell")
    click(driver, "section > details > summary")
    driver.execute_async_script("setTimeout(arguments[0], 300)")
    click(driver, "[data-version]", 0)
    driver.execute_async_script("setTimeout(arguments[0], 400)")
    assert [driver.execute_script(one) for one in (told, unfolded)] == [0, 0]


def test_a_page_that_is_printed_at_once_holds_all_its_tables(driver):
    opened(driver, "lesson=tolerance")
    found = driver.execute_script(
        "const slider = document.getElementById('slider-1');"
        "slider.value = 0; slider.dispatchEvent(new Event('input'));"
        "dispatchEvent(new Event('beforeprint'));"
        "const text = (id) => document.getElementById(id).textContent;"
        "const found = [text('worst'), text('along-name'), text('along')];"
        "dispatchEvent(new Event('afterprint'));"
        "return [...found, document.querySelectorAll('#checks tbody tr').length];"
    )
    assert re.fullmatch(r"<?[\d.]+", found[0])
    assert found[1] == "inlet tube: bore"
    assert "0.102 mm" in found[2]
    assert found[3] == len(
        next(
            one["checks"]
            for one in json.loads(driver.execute_script("return data.textContent"))["stations"]
            if one["lesson"] == "tolerance"
        )
    )


def test_a_slider_speaks_in_the_unit_of_the_sheet(driver):
    opened(driver, "lesson=tolerance")
    ends = "return [...document.querySelectorAll('.ends span')].map((one) => one.textContent)"
    assert driver.execute_script(ends)[:4] == ["0.001 mm", "1 mm", "0.102 mm", "0.138 mm"]
    assert driver.find_element("id", "value-0").get_property("value") == "0.05 mm"
    assert driver.execute_script(TYPED, "60 um") == "0.06 mm"


def test_noise_goes_as_far_as_the_picture(driver):
    opened(driver, "lesson=slow-detector")
    driver.execute_script(TYPED, "1 s")
    click(driver, "#hold")
    click(driver, "#noisy")
    driver.execute_async_script("setTimeout(arguments[0], 300)")
    driver.execute_script(TYPED, "0.02 s")  # its peaks are gone long before the picture ends
    driver.execute_async_script("setTimeout(arguments[0], 300)")
    time, height = curve(driver, "recorded", "trace").T
    for end in (time < time.min() + 0.3, time > time.max() - 0.3):
        assert np.std(height[end]) > 0.002 * height.max()


def test_a_lesson_is_found_again_as_it_was_left(driver):
    opened(driver, "lesson=bore&version=1")
    driver.execute_script(TYPED, "700 mm")
    driver.execute_async_script("setTimeout(arguments[0], 300)")
    for lesson in ("joint", "bore"):
        click(driver, f".lessons a[data-lesson={lesson}]")
        driver.execute_async_script("setTimeout(arguments[0], 500)")
        assert f"lesson={lesson}" in driver.current_url
    assert driver.find_element("id", "value-0").get_property("value") == "700 mm"
    assert "version=1" in driver.current_url


def test_what_cannot_be_set_is_told_at_its_box_and_the_curves_stay(driver):
    opened(driver, "lesson=joint")
    before = curve(driver, "recorded")
    driver.execute_script(TYPED, "1.2")
    box, note = (driver.find_element("id", one) for one in ("value-0", "wrong-0"))
    assert box.get_attribute("aria-invalid") == "true"
    assert note.text.startswith("Expected a number from 0 to 0.95, found 1.2")
    assert note.text.endswith("The curves are still those of 0.8.")
    np.testing.assert_array_equal(curve(driver, "recorded"), before)


def test_the_textbook_s_peak_is_whole_where_it_begins_before_the_injection(driver):
    opened(driver, "lesson=bore&version=1")
    driver.execute_script(TYPED.replace("value-0", "value-1"), "2 mL/min")
    driver.execute_async_script("setTimeout(arguments[0], 300)")
    time, height = curve(driver, "gaussian").T
    assert time[height > 0.01 * height.max()].min() < -0.25
    assert max(height[0], height[-1]) < 0.01 * height.max()
    assert np.abs(np.diff(height)).max() < 0.1 * height.max()


def test_the_page_stays_where_it_is_when_the_instrument_changes(driver):
    opened(driver, "lesson=bore")
    driver.execute_script("document.querySelector('[data-version]').scrollIntoView()")
    was = driver.execute_script("return scrollY")
    click(driver, "[data-version]", 1)
    driver.execute_async_script("setTimeout(arguments[0], 600)")
    assert "version=1" in driver.current_url
    assert driver.execute_script("return scrollY") == pytest.approx(was, abs=40)
    assert driver.execute_script("return document.activeElement.dataset.version") == "1"


def test_at_a_mark_a_slider_has_its_stop_and_its_box_says_so(driver):
    opened(driver, "lesson=slow-detector")
    driver.execute_script(TYPED, "0.2 s")
    driver.find_element("id", "value-0").send_keys("\n")
    marks = driver.execute_script(
        "return [...document.querySelectorAll('#stops-0 option')].map((one) => one.value)"
    )
    for mark, told in zip(marks, ("0.02", "0.05", "0.1", "0.2", "0.5", "1"), strict=True):
        driver.execute_script(
            "const slider = document.getElementById('slider-0'); slider.value = arguments[0];"
            "slider.dispatchEvent(new Event('input'));",
            mark,
        )
        assert driver.find_element("id", "value-0").get_property("value") == f"{told} s"


def test_what_a_student_typed_is_on_paper_beside_the_program_s(driver):
    opened(driver, "lesson=bore")
    box = driver.find_element("css selector", ".fill input")
    box.send_keys("33.3")
    click(driver, ".tell")
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    shown = [one.is_displayed() for one in driver.find_elements("css selector", ".fill input")]
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert shown[:2] == [True, False]


def test_times_are_from_the_middle_of_a_gaussian_injection(driver):
    stations = json.loads(driver.execute_script("return data.textContent"))["stations"]
    middle = {one["lesson"] for one in stations if "middle" in one["time"]}
    plugs = {one["lesson"] for one in stations if "start" in one["time"]}
    assert "gaussian-fails" in middle
    assert "bore" in plugs
    for name in middle:
        assert 'shape = "gaussian"' in re.sub(
            " +", " ", (PAGE.parent.parent / "lessons" / f"{name}.toml").read_text("utf-8")
        )
