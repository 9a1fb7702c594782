"""The lessons' page as a student sees it: boxes, names and sliders beside what they are for."""

import pytest
from reference import slider_pages
from reference.benches import FOUND, browser
from reference.lessons import ANSWERS
from reference.tree import ROOT

PAGE = ROOT / "scenarios" / "pages" / "lessons.html"
SEEN = """const asked = document.querySelectorAll(".question");
asked.forEach((one) => one.querySelector("input").click());
document.getElementById("lock").click();
for (const one of document.querySelectorAll(".tell")) one.click();"""
CUT = """return [...document.querySelectorAll(".fill input")].map((box) => {
  // perhaps with a digit more than is told
  const told = box.nextElementSibling.textContent;
  box.value = told + (/[0-9]$/.test(told) ? "0" : "");
  return box.scrollWidth > box.clientWidth ? box.value : "";
}).filter(Boolean)"""
APART = """const middle = (one) => {
  const place = document.createRange();
  place.selectNodeContents(one);
  const text = place.getClientRects()[0];
  const { top, bottom } = one.tagName === "INPUT" ? one.getBoundingClientRect() : text;
  return (top + bottom) / 2;
};
return [...document.querySelectorAll(".fill tbody tr")].flatMap((row) => {
  const there = [row.querySelector("th"), ...row.querySelectorAll("td > *")].map(middle);
  return Math.max(...there) - Math.min(...there) > 5 ? [row.textContent] : [];
})"""
WIDE = """return [...document.querySelectorAll(".wide")]
  .filter((one) => one.scrollWidth > one.clientWidth + 1).map((one) => one.textContent)"""


@pytest.fixture(scope="module")
def driver(tmp_path_factory):
    if FOUND is None:
        pytest.skip("needs chromium and chromedriver")
    with browser(tmp_path_factory.mktemp("layout")) as one:
        yield one


def opened(driver, name, width, height):
    size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    driver.get("about:blank")
    station = "two-tails-a" if name == "two-tails" else name
    slider_pages.opened(driver, f"{PAGE.as_uri()}#lesson={station}")
    driver.execute_script(SEEN)
    driver.execute_async_script("setTimeout(arguments[0], 400)")


@pytest.mark.parametrize("name", ANSWERS)
def test_a_box_is_as_wide_as_its_answer_which_stands_beside_it(driver, name):
    opened(driver, name, 1425, 757)
    assert driver.execute_script(WIDE) == []
    assert driver.execute_script(APART) == []
    assert driver.execute_script(CUT) == []
    opened(driver, name, 390, 844)
    assert driver.execute_script(CUT) == []


@pytest.mark.parametrize("name", ["hidden-joint", "plate-height"])
def test_sliders_stay_beside_the_table_along_them(driver, name):
    opened(driver, name, 1425, 757)
    driver.execute_script("document.getElementById('along').scrollIntoView({block: 'center'})")
    tops = driver.execute_script(
        "return ['along', 'slider-0'].map((one) => document.getElementById(one))"
        ".flatMap((one) => [one.getBoundingClientRect().top, one.getBoundingClientRect().bottom])"
    )
    assert 0 < tops[2] < tops[3] < 757
    assert tops[0] < 757
