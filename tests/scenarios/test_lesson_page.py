"""All lessons as one page: of today's scenarios; predicted, tried, filled in, revealed by hand."""

import re

import pytest
from reference.axe import script, serious
from reference.benches import FOUND, browser
from reference.lessons import ANSWERS, FOLDER, paired
from reference.slider_pages import SliderPage
from reference.tree import ROOT

import tailrace
from tailrace.journey import travel
from tailrace.web.sheet import inline

PAGE = ROOT / "scenarios" / "pages" / "lessons.html"
MOST_BYTES = 1_350_000


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
        yield one


def opened(driver, fragment):
    driver.get("about:blank")
    driver.get(f"{PAGE.as_uri()}#{fragment}")
    return driver


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
    driver.execute_script("sessionStorage.clear()")
    driver.refresh()
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
    assert driver.find_elements("css selector", "#picture .recorded")
    cell = driver.find_element("css selector", ".fill input")
    cell.send_keys("1.5")
    click(driver, ".tell")
    table = next(part for part in paired(name).parts if part.kind == "fill").tables[0][1]
    told = [one.text for one in driver.find_elements("css selector", ".fill .told")]
    assert told[: len(table[1]) - 1] == table[1][1:]
    if driver.find_elements("css selector", "[data-version]"):
        click(driver, "[data-version]", 1)
        driver.execute_async_script("setTimeout(arguments[0], 300)")
        assert driver.find_elements("css selector", "#picture .recorded")
        assert driver.find_element("css selector", "[aria-pressed=true]").text
        assert "version=1" in driver.current_url
    assert driver.find_element("css selector", ".fill input").get_property("value") == "1.5"
    click(driver, "#show-answers")
    verdicts = [one.text for one in driver.find_elements("css selector", ".verdict")]
    assert ["right:" in one for one in verdicts] == [False, True, True]
    assert driver.get_log("browser") == []


def test_a_measured_signal_lies_upon_the_simulated_one_where_the_fault_is(driver):
    opened(driver, "lesson=hidden-joint")
    apart = []
    for gap in ("50 um", "0.5 mm"):
        driver.execute_script(
            """const box = document.getElementById("value-0"); box.value = arguments[0];
            box.dispatchEvent(new Event("change"));""",
            gap,
        )
        text = driver.find_element("id", "said").get_property("textContent")
        apart.append(float(re.search(r"by ([\d.]+) times its noise", text)[1]))
    assert apart[0] > 5
    assert apart[1] < 1.5


SEEN = """const asked = document.querySelectorAll(".question");
asked.forEach((one) => one.querySelector("input").click());
for (const name of ["lock", "show-answers"]) document.getElementById(name)?.click();
for (const one of document.querySelectorAll(".tell")) one.click();"""


@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (390, "dark")])
@pytest.mark.parametrize("name", ["bore", "order", "hidden-joint", "gradient"])
def test_nothing_serious_by_the_rules_of_axe(driver, name, width, scheme):
    if not script():
        pytest.skip("needs axe-core from the npm registry")
    address = f"{PAGE.as_uri()}#lesson={name}"
    driver.get(address)
    driver.execute_script("sessionStorage.clear()")
    assert serious(driver, address, width, scheme, SEEN) == []
