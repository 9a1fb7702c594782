"""The shipped page in a browser: what is shown is what is recorded, at once, and nothing leaves."""

import json
import re
from pathlib import Path

import numpy as np
import pytest
from reference.pens import colours, curve, lines, watched
from reference.slider_pages import chromium, opened

import tailrace
from tailrace.journey.product import multiply

FOLDER = Path(__file__).parents[2] / "scenarios"
PAGE = FOLDER / "pages" / "inherited-core-shell.html"
FOUND = chromium()
SWITCHES = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--window-size=1280,1000",
)

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    from selenium import webdriver

    options = webdriver.ChromeOptions()
    options.binary_location = FOUND[0]
    for switch in (*SWITCHES, f"--user-data-dir={tmp_path_factory.mktemp('browser')}"):
        options.add_argument(switch)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options, webdriver.ChromeService(FOUND[1]))
    try:
        driver.set_script_timeout(20)
        yield watched(driver)
    finally:
        driver.quit()


@pytest.fixture
def shown(browser):
    """The page, freshly opened."""
    opened(browser, PAGE.as_uri())
    return browser


def moved(driver, *texts):
    """Type values beside the sliders."""
    driver.execute_script(
        """arguments[0].forEach((text, k) => {
          const box = document.getElementById(`value-${k}`);
          box.value = text;
          box.dispatchEvent(new Event("change"));
        });""",
        texts,
    )


def dragged(driver, number, place):
    """Put a slider to a place, as a hand does that lets go of it."""
    driver.execute_async_script(
        """const [number, place, done] = arguments;
        const slider = document.getElementById(`slider-${number}`);
        slider.value = place;
        for (const name of ["input", "change"]) slider.dispatchEvent(new Event(name));
        requestAnimationFrame(() => requestAnimationFrame(() => done()));""",
        number,
        place,
    )


def cells(driver, table):
    rows = driver.find_elements("css selector", f"#{table} tbody tr")
    return [[cell.text for cell in row.find_elements("css selector", "td")] for row in rows]


POSITIONS = [
    ({}, 0),
    ({"tube to heater.length": "137 mm", "flow cell.volume": "4.4 uL"}, 2),
    ({"tube to heater.length": "0.7 m", "detector.time_constant": "80 ms"}, 1),
]
"""Values that are no stops, and one beyond them."""
FIELDS = ("tube to heater.length", "flow cell.volume", "detector.time_constant")


@pytest.mark.parametrize(("values", "lane"), POSITIONS)
def test_what_a_position_shows_is_its_record(shown, values, lane):
    scenario = tailrace.load(FOLDER / "inherited-core-shell.toml")
    result = multiply((scenario.changed(values) if values else scenario).itinerary())
    start = ("400 mm", "13 uL", "0.5 s")
    moved(shown, *(values.get(field, text) for field, text in zip(FIELDS, start, strict=True)))
    choose(shown, "solute", lane)
    figures = cells(shown, "figures")
    for row, name in ((0, "plates_own_retention"), (2, "tailing_5"), (3, "width_half")):
        # the last of four digits
        assert float(figures[row][1]) == pytest.approx(result.recorded[name][lane], rel=6e-4), name
    shares = np.array([part.variance_recorded[lane] for part in result.parts])
    reported = [float(row[2].lstrip("<")) for row in cells(shown, "parts")]
    np.testing.assert_allclose(reported, 100 * shares / shares.sum(), atol=0.06)
    assert shown.find_element("id", "said").text.startswith(f"{result.lanes[lane]}: plates ")
    for kind, band in (("recorded", result.recorded_band), ("own", result.column_band)):
        one = band.lane(lane)
        seen = curve(shown, kind)
        heights = np.interp(one.times[0], *seen.T, 0.0, 0.0)
        inside = (one.times[0] > seen[1, 0]) & (one.times[0] < seen[-2, 0])
        # straight lines between samples
        most = one.values[0].max()
        assert np.abs(heights - one.values[0])[inside].max() < 4e-3 * most, kind


def test_it_found_itself_as_near_the_marches_as_it_says(shown):
    from selenium.webdriver.support.ui import WebDriverWait

    WebDriverWait(shown, 20).until(lambda one: one.find_element("id", "worst").text != "…")
    assert float(shown.find_element("id", "worst").text.lstrip("<")) < 0.1
    assert len(shown.find_elements("css selector", "#checks tbody tr")) >= 10
    shown.find_element("xpath", "//details[.//table[@id='checks']]/summary").click()
    shown.find_element("css selector", "#checks tbody tr:nth-child(2) button").click()
    assert shown.find_element("id", "value-0").get_attribute("value") == "50 mm"


def test_moving_a_slider_changes_curve_and_numbers(shown):
    before = curve(shown, "recorded"), cells(shown, "figures")
    for number in range(3):
        dragged(shown, number, 0)
    after = curve(shown, "recorded"), cells(shown, "figures")
    assert before[1] != after[1]
    assert after[0][:, 1].max() > 1.5 * before[0][:, 1].max()
    assert "ghost" in lines(shown)


def test_a_pinned_position_stays_beside_and_the_address_keeps_where_one_is(browser):
    opened(browser, PAGE.as_uri())
    browser.find_element("id", "pin").click()
    before = cells(browser, "figures")
    moved(browser, "123.4 mm", "2 uL")
    after = cells(browser, "figures")
    assert [row[3] for row in after] == [row[1] for row in before]
    assert "pinned" in lines(browser)
    assert "400 mm" in browser.find_element("id", "pinned").text
    browser.execute_async_script("setTimeout(arguments[0], 400)")
    address = browser.current_url
    browser.get("about:blank")
    opened(browser, address)
    boxes = [browser.find_element("id", f"value-{k}").get_attribute("value") for k in range(3)]
    assert boxes == ["123.4 mm", "2 µL", "0.5 s"]
    assert [row[1] for row in cells(browser, "figures")] == [row[1] for row in after]
    opened(browser, PAGE.as_uri())


def test_what_is_no_value_is_told_and_changes_nothing(shown):
    before = cells(shown, "figures")
    moved(shown, "12 bar")
    told = shown.find_element("id", "wrong-0")
    assert "Expected a length with a unit" in told.text
    assert "still those of 400 mm" in told.text
    assert cells(shown, "figures") == before
    shown.find_element("id", "ghosts").click()
    assert shown.find_element("id", "value-0").get_attribute("value") == "12 bar"
    for text in ("", "1,500 mm"):
        moved(shown, text)
        assert told.is_displayed()
        assert cells(shown, "figures") == before
    moved(shown, "137,5 mm")
    assert not told.is_displayed()
    assert shown.find_element("id", "value-0").get_attribute("value") == "137.5 mm"


def choose(driver, name, value):
    driver.execute_script(
        "const s = document.getElementById(arguments[0]); s.value = arguments[1];"
        "s.dispatchEvent(new Event('change'))",
        name,
        value,
    )


def test_noise_is_drawn_and_is_the_same_twice(shown):
    def trace():
        return lines(shown, "trace")["recorded"].tolist()

    quiet = trace()
    shown.find_element("id", "noisy").click()
    first = trace()
    assert first != quiet
    moved(shown, "100 mm")
    shown.find_element("id", "back").click()
    assert trace() == first


def test_it_works_by_keyboard_and_is_told_in_words(shown):
    from selenium.webdriver.common.keys import Keys

    slider = shown.find_element("id", "slider-0")
    was = shown.find_element("id", "said").text
    shown.execute_script("document.activeElement.blur()")
    body = shown.find_element("tag name", "body")
    body.send_keys(Keys.TAB)
    assert shown.switch_to.active_element == shown.find_element("id", "value-0")
    shown.switch_to.active_element.send_keys(Keys.TAB)
    assert shown.switch_to.active_element == slider
    outline = slider.value_of_css_property("outline-style")
    assert outline == "solid"
    slider.send_keys(Keys.ARROW_LEFT)
    assert slider.get_attribute("aria-valuetext") == "399.7 mm"
    status = shown.find_element("id", "said")
    assert status.get_attribute("role") == "status"
    slider.send_keys(Keys.HOME)
    assert slider.get_attribute("aria-valuetext") == "50 mm"
    assert status.text != was
    # its rows follow a little later
    shown.execute_async_script(
        """const done = arguments[0];
        const here = () => document.querySelector("#along tr[aria-current]")?.innerText ?? "";
        const look = () => here().startsWith("50 mm") ? done() : setTimeout(look, 20);
        look();"""
    )
    shown.find_element("id", "back").click()
    assert slider.get_attribute("aria-valuetext") == "400 mm"


def test_the_browser_sees_names_and_roles(shown):
    nodes = shown.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
    reported = {
        (node["role"]["value"], node.get("name", {}).get("value", ""))
        for node in nodes
        if not node.get("ignored")
    }
    for name in ("tube to heater: length", "flow cell: volume", "detector: time constant"):
        assert ("slider", name) in reported
    assert ("image", "The recorded peak of “cohumulone”") in reported
    assert ("combobox", "Solute") in reported or ("ComboBoxMenuButton", "Solute") in reported
    assert "status" in {role for role, _ in reported}


def test_the_peak_is_drawn_once_the_page_has_taken_up_what_it_brings(browser):
    opened(browser, PAGE.as_uri())
    assert "recorded" in lines(browser)


def test_nothing_leaves_and_nothing_is_complained_of(browser):
    for log in ("browser", "performance"):
        browser.get_log(log)
    opened(browser, PAGE.as_uri())
    moved(browser, "50 mm", "2 uL", "1 s")
    assert browser.get_log("browser") == []
    sent = [
        message["params"]["request"]["url"]
        for entry in browser.get_log("performance")
        if (message := json.loads(entry["message"])["message"])["method"]
        == "Network.requestWillBeSent"
    ]
    assert {one.partition("#")[0] for one in sent} == {PAGE.as_uri()}
    assert browser.execute_script("return performance.getEntriesByType('resource').length") == 0


def test_the_policy_stops_what_would_leave(shown):
    # Without this the test above could not fail for an address that the page never tried.
    stopped = shown.execute_async_script(
        """const done = arguments[0];
        addEventListener("securitypolicyviolation", (event) => done(event.effectiveDirective));
        const image = document.createElement("img");
        image.src = "data:image/gif;base64,R0lGODlhAQABAAAAACw=";
        document.body.append(image);"""
    )
    assert stopped == "img-src"
    shown.get_log("browser")


@pytest.mark.parametrize("width", [360, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_a_telephone_and_a_projector(browser, width, scheme):
    size = {"width": width, "height": 800, "deviceScaleFactor": 1, "mobile": width < 500}
    media = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", media)
    try:
        opened(browser, PAGE.as_uri())
        wide = browser.execute_script("return document.documentElement.scrollWidth")
        assert wide <= width
        ink, ground = (
            browser.find_element("tag name", "body").value_of_css_property(name)
            for name in ("color", "background-color")
        )
        # Web Content Accessibility Guidelines 2.2: 7 to 1 for text (1.4.6), 3 to 1 for what has
        # to be told apart in pictures (1.4.11); formula of the same (from memory).
        assert contrast(ink, ground) >= 7
        assert {"recorded", "own", "gaussian"} <= {*lines(browser)}
        for one in colours(browser, ("recorded", "own", "gaussian")):
            assert contrast(one, ground) >= 3
    finally:
        browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})


def contrast(one, other):
    """Contrast of two colours such as ``rgb(1, 2, 3)`` or ``#010203``."""
    lights = []
    for colour in (one, other):
        if colour[0] == "#":
            told = [int(two, 16) for two in re.findall("[0-9a-f]{2}", colour)]
        else:
            told = re.findall(r"[\d.]+", colour)[:3]
        parts = np.array(told, dtype=float) / 255
        linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
        lights.append(linear @ [0.2126, 0.7152, 0.0722])
    return (max(lights) + 0.05) / (min(lights) + 0.05)
