"""A page in another language: its words are those of the table, and its numbers have commas."""

import re
from dataclasses import replace

import pytest
from reference.benches import FOUND, browser
from reference.pens import watched
from reference.slider_pages import opened
from reference.tree import ROOT
from reference.wording import WORD, wordy

from tailrace import wording
from tailrace.web import sliding
from tailrace.web.sliding import page_with
from tailrace.web.stations import stations_of
from tailrace.wording import table

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")
FOLDER = ROOT / "scenarios" / "lessons"
READ = """for (const one of document.querySelectorAll("details")) one.open = true;
document.getElementById("pin").click();
const found = [document.title], whole = [];
const left = "[lang=en], h1, code, pre, script, noscript, style, template";
for (const one of document.querySelectorAll("body *")) {
  if (one.closest(left)) continue;
  for (const name of ["aria-label", "aria-valuetext", "data-more"])
    if (one.hasAttribute(name)) found.push(one.getAttribute(name));
  if (one.matches("input.value, output")) found.push(one.value);
}
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode())
  if (!walk.currentNode.parentElement.closest(left)) whole.push(walk.currentNode.data);
const drawn = ["picture", "trace"].flatMap((name) => penOf(name).map((one) => one.text ?? ""));
return [whole.join(" "), ...found, ...drawn].map((text) => text.trim()).filter((text) => text);"""
NAMES = re.compile(
    r"\b(?:parent|impurity|polar|middling|greasy|inlet tube|tube before|tube behind|tailrace|SHA"
    r"|ms)\b|\w+\.\w+ = "
)


@pytest.fixture(scope="module")
def driver(tmp_path_factory):
    with browser(tmp_path_factory.mktemp("german")) as one:
        yield watched(one)


def laid(driver, path, lesson, slide):
    """The page of a lesson's scenario alone, open."""
    (station, *_) = stations_of([FOLDER / f"{lesson}.toml"], slide)
    page = station.page.model_copy(update={"language": "de"})
    bare = replace(station, page=page, sheet=None, name="", versions=())
    path.write_text(page_with([bare]), encoding="utf-8")
    opened(driver, path.as_uri())


def shown(driver, path, lesson, slide):
    laid(driver, path, lesson, slide)
    driver.execute_async_script("setTimeout(arguments[0], 1500)")
    return driver.execute_script(READ)


def unmarked(text):
    """What a text says beside what is marked, and beside names."""
    while "⟦" in text:
        text, count = re.subn(r"⟦[^⟦⟧]*⟧", " ", text)
        assert count, text
    return NAMES.sub(" ", text).replace("{", "").replace("}", "")


class Marked(dict):
    """A table that marks every text that it has."""

    def get(self, text, default=None):
        return f"⟦{self[text]}⟧" if text in self else text

    def items(self):
        return [(text, self.get(text)) for text in self]


@pytest.mark.parametrize(
    ("lesson", "slide"),
    [
        ("slow-detector", ["detector.time_constant = 0.02, 0.5, 1 s"]),
        ("gradient", ["tube before.length = 100, 400 mm"]),
    ],
)
def test_no_word_of_a_page_is_outside_the_table(driver, tmp_path, monkeypatch, lesson, slide):
    marked = Marked(table("de"))
    for room in (wording, sliding):
        monkeypatch.setattr(room, "table", lambda language: marked)
    texts = shown(driver, tmp_path / "page.html", lesson, slide)
    assert texts[0].count("⟦") > 50
    assert [WORD.findall(one) for one in map(unmarked, texts) if wordy(one)] == []
    assert driver.get_log("browser") == []


def test_numbers_have_a_decimal_comma_and_are_typed_with_one(driver, tmp_path):
    slide = ["detector.time_constant = 0.02, 0.5, 1 s"]
    texts = shown(driver, tmp_path / "page.html", "slow-detector", slide)
    assert [one for one in texts if re.search(r"(?<![\d.])\d+\.\d+(?![\d.])", one)] == []
    assert len([one for one in texts if re.fullmatch(r"\d,\d+", one)]) > 4
    driver.execute_script(
        "const box = document.getElementById('value-0'); box.value = '0,125 s';"
        "box.dispatchEvent(new Event('change'));"
    )
    assert driver.find_element("id", "value-0").get_property("value") == "0,125 s"
    assert not driver.find_element("id", "wrong-0").is_displayed()
    assert "aufgezeichnet von 11000" in driver.find_element("id", "said").text


def test_on_paper_a_picture_stays_within_its_column(driver, tmp_path):
    laid(driver, tmp_path / "page.html", "slow-detector", ["detector.time_constant = 0.02, 1 s"])
    # A sheet of A4 between margins of 9 mm, 96 points an inch: 192 mm are 726 of them.
    size = {"width": 726, "height": 1000, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    try:
        rooms = driver.execute_script(
            """dispatchEvent(new Event("beforeprint"));
            return ["picture", "trace"].map((name) => {
              const place = document.getElementById(name), drawn = place.querySelector("canvas");
              return [place, drawn].map((one) => one.getBoundingClientRect().width);
            });"""
        )
    finally:
        driver.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    for room, drawn in rooms:
        assert 0.9 * room < drawn <= room
