"""All lessons as one page: of today's scenarios; predicted, tried, filled in, revealed by hand."""

import base64
import json
import re

import matplotlib.pyplot as plt
import numpy as np
import pytest
from click.testing import CliRunner
from reference import slider_pages
from reference.axe import script, serious
from reference.benches import FOUND, browser
from reference.lessons import ANSWERS, FOLDER, paired, sheet, tables
from reference.pens import colours, labels, lines, watched
from reference.slider_pages import SliderPage, settled
from reference.tree import ROOT

import tailrace
from tailrace.cli import main
from tailrace.journey import travel
from tailrace.web import assemble
from tailrace.web.facts import computing_facts
from tailrace.web.sheet import inline

PAGE = ROOT / "scenarios" / "pages" / "lessons.html"
MOST_BYTES, OF_ONE = 1_300_000, 600_000


@pytest.fixture(scope="module")
def read():
    return SliderPage(PAGE.read_text(encoding="utf-8"))


def stations(read):
    return read.data["stations"]


def test_it_holds_every_lesson_as_its_files_stand(read):
    assert PAGE.stat().st_size < MOST_BYTES
    assert f"a course of {len(ANSWERS)} lessons" in read.text
    names = list(dict.fromkeys(one["lesson"].removesuffix("-a") for one in stations(read)))
    index = re.findall(r"^\| \d+ \| \[([\w-]+)\]", (FOLDER / "README.md").read_text("utf-8"), re.M)
    assert names == index
    assert set(names) == set(ANSWERS)
    for path in FOLDER.glob("*.toml"):
        assert tailrace.load(path).sha256 in read.text, f"{path}: make the page anew"
    for name in names:
        for question in (one for part in paired(name).parts for one in part.questions):
            assert squeezed(inline(question.because).striptags()) in squeezed(read.text)


def test_each_lesson_by_itself_is_small(read):
    # what a page of its own would hold of this one: the script, what it computes with, one lesson
    page = PAGE.read_text("utf-8")
    bodies = re.findall(r'<template id="station-\d+">.*?</template>', page, re.S)
    lessons = stations(read)
    assert len(bodies) == len(lessons) > 14
    told = [len(json.dumps(one, separators=(",", ":"))) for one in lessons]
    sizes = [len(body.encode()) + size for body, size in zip(bodies, told, strict=True)]
    facts = len(re.search(r'<script type="text/plain" id="facts".*?</script>', page, re.S)[0])
    shared = len(page.encode()) - sum(sizes) - facts
    straight = len(assemble._packed("facts", computing_facts()))
    for name in {one["lesson"] for one in lessons}:
        own = sum(n for n, one in zip(sizes, lessons, strict=True) if one["lesson"] == name)
        # none but this one has a tube that is bent
        asked = facts if name == "coil" else straight
        assert shared + asked + own < OF_ONE, name


def squeezed(text):
    return re.sub(r"\W", "", text)


def test_a_marched_position_is_what_the_solver_says_today(read):
    station = next(one for one in stations(read) if one["lesson"] == "joint")
    told = station["checks"][0]["solutes"][0]["leading"]
    result = travel(tailrace.load(FOLDER / "joint.toml").itinerary())
    assert told[0] == pytest.approx(result.recorded[station["leading"]][0], abs=2 * told[1])


@pytest.fixture(scope="module")
def driver(tmp_path_factory):
    if FOUND is None:
        pytest.skip("needs chromium and chromedriver")
    with browser(tmp_path_factory.mktemp("lessons")) as one:
        yield watched(one)


def opened(driver, fragment):
    driver.get("about:blank")
    return slider_pages.opened(driver, f"{PAGE.as_uri()}#{fragment}")


def click(driver, selector, at=0):
    driver.execute_script(
        "document.querySelectorAll(arguments[0])[arguments[1]].click()", selector, at
    )


def seen(driver, name):
    return driver.find_element("id", name).is_displayed()


@pytest.mark.parametrize("name", [*dict.fromkeys(ANSWERS)])
def test_a_lesson_is_done_from_its_page_alone(driver, name):
    station = "two-tails-a" if name == "two-tails" else name
    driver.get_log("browser")
    opened(driver, f"lesson={station}")
    questions = [one for part in paired(name).parts for one in part.questions]
    assert not seen(driver, "after")
    assert driver.find_element("id", "lock").get_property("disabled")
    for at, question in enumerate(questions):
        letter = (
            question.answer if at else next(x for x in question.choices if x != question.answer)
        )
        click(driver, f"input[name=question-{at + 1}][value={letter}]")
    click(driver, "#lock")
    assert seen(driver, "picture")
    assert not seen(driver, "verdicts")
    assert "recorded" in lines(driver)
    cell = driver.find_element("css selector", ".fill input")
    cell.send_keys("1.5")
    click(driver, ".tell")
    blank, table = next(part for part in paired(name).parts if part.kind == "fill").tables[0]
    first = [one for given, one in zip(blank[1], table[1], strict=True) if not given]
    told = [one.text for one in driver.find_elements("css selector", ".fill .told")]
    assert told[: len(first)] == first
    if driver.find_elements("css selector", "[data-version]"):
        click(driver, "[data-version]", 1)
        driver.execute_async_script("setTimeout(arguments[0], 300)")
        assert "recorded" in lines(driver)
        assert driver.find_element("css selector", "[aria-pressed=true]").text
        assert "version=1" in driver.current_url
    assert driver.find_element("css selector", ".fill input").get_property("value") == "1.5"
    click(driver, "#show-answers")
    verdicts = [one.text for one in driver.find_elements("css selector", ".verdict")]
    assert ["right:" in one for one in verdicts] == [False, True, True]
    assert driver.get_log("browser") == []


def moved(driver):
    """Once another lesson is there."""
    driver.execute_async_script("setTimeout(arguments[0], 500)")


def state(driver):
    """Locked or not, the first cell and what is chosen."""
    chosen = driver.execute_script(
        "return [...document.querySelectorAll('.question input:checked')].map((one) => one.value)"
    )
    cell = driver.find_element("css selector", ".fill input").get_property("value")
    return seen(driver, "after"), cell, chosen


def follow(driver, lesson):
    """The link at the head of the page."""
    click(driver, f".lessons a[data-lesson={lesson}]")
    moved(driver)
    assert f"lesson={lesson}" in driver.current_url


def test_what_a_student_did_is_in_the_address_and_nowhere_else(driver):
    opened(driver, "lesson=bore")
    unlock(driver)
    driver.find_element("css selector", ".fill input").send_keys("1,5 µm")
    bore = state(driver)
    assert bore[:2] == (True, "1,5 µm")
    follow(driver, "joint")
    assert state(driver) == (False, "", [])
    click(driver, "input[name=question-2][value=b]")
    joint = (False, "", ["b"])
    driver.refresh()
    settled(driver)
    assert state(driver) == joint
    driver.back()  # to an address from before the other lesson was begun
    moved(driver)
    assert state(driver) == bore
    follow(driver, "joint")
    assert state(driver) == joint
    address = driver.current_url
    for store in ("sessionStorage", "localStorage"):
        assert driver.execute_script(f"return {store}.length") == 0
    opened(driver, address.partition("#")[2])
    assert state(driver) == joint
    follow(driver, "bore")
    assert state(driver) == bore
    click(driver, "#anew")
    moved(driver)
    assert state(driver)[0] is False
    driver.back()
    moved(driver)
    follow(driver, "bore")
    assert state(driver)[0] is False


@pytest.mark.parametrize(
    "kept",
    [
        '{"lesson bore": 5, "pin bore": {"version": 0, "values": [{}]}}',
        '{"lesson bore": {"chosen": 1, "cells": {"x": [1]}, "locked": "yes"}, "pin bore": 3}',
        '{"pin bore": {"version": 0, "values": [null]}, "before bore": [[]]}',
        '{"__proto__": {"a": 1}, "pin bore": {"values": "x"}}',
        "[[",
        "null",
    ],
)
def test_an_address_that_was_not_made_here_does_no_harm(driver, kept):
    driver.get_log("browser")
    letters = base64.urlsafe_b64encode(kept.encode()).decode().rstrip("=")
    opened(driver, f"lesson=bore&%zz=1&kept={letters}")
    assert seen(driver, "predict")
    assert not seen(driver, "after")
    unlock(driver)
    assert "recorded" in lines(driver)
    assert driver.execute_script("return {}.a") is None
    assert driver.get_log("browser") == []


def test_noise_does_not_stretch_the_chromatogram(driver):
    opened(driver, "lesson=slow-detector")
    unlock(driver)
    typed(driver, "1 s")
    click(driver, "#noisy")
    driver.execute_async_script("setTimeout(arguments[0], 300)")
    times = [time for _, time in labels(driver, "trace")[0]]
    assert 40 < max(times) < 50  # the peaks are gone by 41 s, the record ends at 80 s


def test_a_measured_signal_lies_upon_the_simulated_one_where_the_fault_is(driver):
    opened(driver, "lesson=hidden-joint")
    apart = []
    for gap in ("0.05 mm", "0.5 mm"):
        typed(driver, gap)
        text = driver.find_element("id", "said").get_property("textContent")
        apart.append(float(re.search(r"by ([\d.]+) times its noise", text)[1]))
    assert apart[0] > 5
    assert apart[1] < 1.5


def test_another_measurement_is_shown_without_the_curve_before_and_the_slider_stays(driver):
    opened(driver, "lesson=hidden-joint")
    unlock(driver)
    typed(driver, "2.5 uL", 2)
    assert "ghost" in lines(driver)
    click(driver, "[data-version]", 1)
    driver.execute_async_script("setTimeout(arguments[0], 400)")
    assert "version=1" in driver.current_url
    assert "ghost" not in lines(driver)
    assert driver.find_element("id", "along-name").text == "cell: volume"
    heads = driver.find_elements("css selector", "#along thead th")
    assert [one.is_displayed() for one in heads[:3]] == [True, True, False]


def test_another_owner_s_instrument_begins_at_what_he_believes(driver):
    opened(driver, "lesson=hidden-joint")
    unlock(driver)
    typed(driver, "0.1 s", 1)
    click(driver, "[data-version]", 1)
    driver.execute_async_script("setTimeout(arguments[0], 400)")
    detector = "return document.getElementById('value-1').value"
    assert driver.execute_script(detector) == "0.1 s"  # the same instrument at another flow
    click(driver, "[data-version]", 3)
    driver.execute_async_script("setTimeout(arguments[0], 400)")
    assert "version=3" in driver.current_url
    assert driver.execute_script(detector) == "0.05 s"


def test_cells_that_students_are_given_are_no_boxes(driver):
    opened(driver, "lesson=hidden-joint")
    unlock(driver)
    asked = tables(sheet("hidden-joint"))
    rows = driver.find_elements("css selector", ".fill tbody tr")
    cells = [
        [bool(td.find_elements("tag name", "input")) for td in row.find_elements("tag name", "td")]
        for row in rows
    ]
    assert cells == [[not cell for cell in row[1:]] for one in asked for row in one[1:]]
    assert rows[4].find_element("tag name", "td").text == asked[1][1][1]


def test_a_pin_stays_when_the_instrument_changes(driver):
    opened(driver, "lesson=order&version=4")
    unlock(driver)
    name = driver.find_element("css selector", "[aria-pressed=true]").text
    was = column(driver, 2)
    click(driver, "#pin")
    click(driver, "[data-version]", 5)
    driver.execute_async_script("setTimeout(arguments[0], 400)")
    assert "version=5" in driver.current_url
    assert name in driver.find_element("id", "pinned").text
    assert column(driver, 4) == was
    assert column(driver, 2) != was
    assert "pinned" in lines(driver)
    click(driver, "#unpin")
    assert "ghost" in lines(driver)
    driver.refresh()
    settled(driver)
    assert "pinned" not in lines(driver)


def test_the_curve_before_is_not_drawn_upon_the_pinned_one(driver):
    opened(driver, "lesson=joint")
    unlock(driver)
    click(driver, "#pin")
    typed(driver, "1", 1)
    assert "pinned" in lines(driver)
    assert "ghost" not in lines(driver)
    typed(driver, "0.2", 1)
    assert {"pinned", "ghost"} <= {*lines(driver)}


def unlock(driver):
    driver.execute_script(
        "for (const one of document.querySelectorAll('.question')) "
        "one.querySelector('input').click(); document.getElementById('lock').click()"
    )


def column(driver, number):
    return [
        one.text
        for one in driver.find_elements("css selector", f"#figures td:nth-child({number + 1})")
    ]


def test_a_sharp_front_is_drawn_as_one_thin_line(driver):
    opened(driver, "lesson=bore")
    unlock(driver)
    # ripples of the sum of frequencies, below a hundredth of a dot, are not seen
    up = np.round(lines(driver)["recorded"][:, 1], 2)
    steps = np.sign(np.diff(up))
    # a front and a tail
    assert np.count_nonzero(np.diff(steps[steps != 0])) <= 3
    assert up.size > 200


def typed(driver, text, at=0):
    driver.execute_script(
        "const box = document.getElementById(arguments[1]); box.value = arguments[0];"
        "box.dispatchEvent(new Event('change'));",
        text,
        f"value-{at}",
    )


def test_a_student_is_told_what_to_do_where_the_page_cannot_compute(driver, tmp_path):
    page = tmp_path / "lesson.html"
    asked = ["page", str(FOLDER / "gaussian-fails.toml"), "--out", str(page)]
    assert CliRunner().invoke(main, asked).exit_code == 0
    slider_pages.opened(driver, page.as_uri())
    unlock(driver)
    typed(driver, "2 mm")
    told = driver.find_element("id", "wrong-0").text
    assert "Fourier number outside 0.003 to 100; the program has to compute it" in told
    assert "choose another value, or go back to the one before. The" in told
    assert told.endswith("The curves are still those of 300 mm.")
    assert "tailrace" not in told
    assert "recorded" in driver.find_element("id", "legend").text


def filled(driver):
    """Of the picture's height, what the recorded curve takes; more than 1 where it goes beyond."""
    up = lines(driver)["recorded"][:, 1]
    ground, above = max(up), [y for y, _ in labels(driver)[1]]
    return (ground - min(up)) / (ground - min(above))


def test_the_scale_follows_unless_it_is_kept_and_a_tail_can_be_magnified(driver):
    opened(driver, "lesson=gaussian-fails")
    unlock(driver)
    typed(driver, "30 mm")
    typed(driver, "3 m")
    assert filled(driver) > 0.4
    click(driver, "#hold")
    typed(driver, "30 mm")
    typed(driver, "3 m")
    assert filled(driver) < 0.2
    click(driver, "#hold")
    for zoom, least in (("10", 4), ("100", 40)):
        chosen(driver, "zoom", zoom)
        assert filled(driver) > least
    chosen(driver, "zoom", "log")
    assert {0.1, 0.01, 0.001} <= {height for _, height in labels(driver)[1]}


def chosen(driver, name, value):
    driver.execute_script(
        "const list = document.getElementById(arguments[0]); list.value = arguments[1];"
        "list.dispatchEvent(new Event('change'))",
        name,
        value,
    )


@pytest.mark.parametrize(
    ("name", "there"),
    [("two-tails-a", ["recorded", "own"]), ("hidden-joint", ["simulated", "measured"])],
)
def test_the_legend_names_what_is_drawn(driver, name, there):
    opened(driver, f"lesson={name}")
    driver.execute_script("document.getElementById('after').hidden = false")
    keys = driver.find_elements("css selector", "#legend li:not(.absent)")
    kinds = [one.get_attribute("data-kind") for one in keys]
    assert {*kinds} == {*lines(driver)}
    assert {*there} <= {*kinds, *(one.text for one in keys)}
    assert ("gaussian" in kinds) == (name != "two-tails-a")


SEEN = """const asked = document.querySelectorAll(".question");
asked.forEach((one) => one.querySelector("input").click());
for (const name of ["lock", "show-answers"]) document.getElementById(name)?.click();
for (const one of document.querySelectorAll(".tell")) one.click();"""


OF_EACH_KIND = ["bore", "order", "hidden-joint", "gradient"]
VIEWS = pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (390, "dark")])


def serious_of(driver, name, width, scheme):
    if not script():
        pytest.skip("needs axe-core from the npm registry")
    address = f"{PAGE.as_uri()}#lesson={name}"
    return serious(driver, address, width, scheme, SEEN)


@VIEWS
@pytest.mark.parametrize("name", OF_EACH_KIND)
def test_nothing_serious_by_the_rules_of_axe(driver, name, width, scheme):
    assert serious_of(driver, name, width, scheme) == []


@VIEWS
@pytest.mark.parametrize(
    "name",
    [one.replace("tails", "tails-a") for one in ANSWERS if one not in OF_EACH_KIND],
)
def test_nothing_serious_in_any_other_lesson(driver, name, width, scheme):
    assert serious_of(driver, name, width, scheme) == []


@pytest.mark.parametrize("name", ["bore", "coil", "plate-height", "hidden-joint"])
def test_on_a_phone_no_table_is_moved_sideways_and_sliders_stand_below_the_picture(driver, name):
    size = {"width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": True}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    try:
        opened(driver, f"lesson={name}")
        driver.execute_script(SEEN)
        driver.execute_async_script("setTimeout(arguments[0], 400)")
        wide = driver.execute_script(
            "return [...document.querySelectorAll('.wide')]"
            ".filter((one) => one.scrollWidth > one.clientWidth + 1).map((one) => one.outerHTML)"
        )
        top, bottom = driver.execute_script(
            "const place = (one) => document.querySelector(one).getBoundingClientRect();"
            "return [place('.bench figure').top, place('.controls').bottom]"
        )
    finally:
        driver.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    assert wide == []
    assert bottom - top < 844


def test_what_is_saved_breaks_no_rule_of_the_page_and_names_its_lines(driver, tmp_path):
    from selenium.webdriver.support.ui import WebDriverWait

    told = {"behavior": "allow", "downloadPath": str(tmp_path)}
    driver.execute_cdp_cmd("Page.setDownloadBehavior", told)
    opened(driver, "lesson=slow-detector")
    unlock(driver)
    driver.get_log("browser")
    for name in ("save-peak", "save-table"):
        click(driver, f"#{name}")
    WebDriverWait(driver, 20).until(lambda _: len([*tmp_path.glob("*.[pc][ns][gv]")]) == 2)
    assert driver.get_log("browser") == []
    seen = np.round(255 * plt.imread(tmp_path / "peak.png")[..., :3]).astype(int)
    kinds = [*lines(driver)]
    canvas = driver.execute_script("return document.querySelector('#picture canvas').width")
    assert seen.shape[1] == 3 * canvas  # sharp on paper, too
    ground = driver.find_element("tag name", "body").value_of_css_property("background-color")
    assert seen[0, 0].tolist() == [int(one) for one in re.findall(r"\d+", ground)[:3]]
    for colour in colours(driver, kinds):
        exactly = [int(two, 16) for two in re.findall("..", colour[1:])]
        rows, _ = np.nonzero((seen == exactly).all(2))
        # among the names above, and as a line below
        assert np.ptp(rows) > 0.2 * len(seen), colour
    heads = (tmp_path / "chromatogram.csv").read_text("utf-8").partition("\n")[0]
    assert all(name in heads for name in ("parent, column alone", "parent, Gaussian theory"))


def test_what_was_chosen_is_seen_when_it_is_locked(driver):
    opened(driver, "lesson=joint")
    unlock(driver)
    border, free = driver.execute_script(
        "const [one, other] = document.querySelectorAll('.question input');"
        "return [one, other].map((radio) => getComputedStyle(radio).borderTopWidth)"
    )
    assert float(border.removesuffix("px")) > 2 * float(free.removesuffix("px"))
