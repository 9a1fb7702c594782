"""The bench in a browser, printed: one sheet that can be read."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from reference.benches import FOUND, START

from tailrace.scenario.toml import as_toml

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")
FOLDER = Path(__file__).parents[2] / "scenarios"


def lengthened(text):
    """A scenario with five tubes more, and twelve changes."""
    tables = tomllib.loads(text)
    tubes = [tables["path"][1] | {"name": f"tube {k}", "length": "120 mm"} for k in range(5)]
    tables["path"][3:3] = tubes
    tables["changes"] += [
        {"name": f"narrow {one['name']}", "cost": 10, "set": {one["name"]: {"bore": "0.12 mm"}}}
        for one in (*tubes, tables["path"][0])
    ]
    return as_toml(tables)


def measured_peaks(count=12):
    """A measured signal of which most peaks lie beside the simulated ones."""
    time = np.arange(0, 400, 0.1)
    values = np.random.default_rng(1).normal(0, 0.01, time.size)
    for apex in range(30, 30 * (count + 1), 30):
        values += 10 * np.exp(-0.5 * ((time - apex) / 1.5) ** 2)
    rows = (f"{one:.2f},{other:.6f}" for one, other in zip(time, values, strict=True))
    return "time (s),signal\n" + "\n".join(rows)


LETTERS = """window.dispatchEvent(new Event("beforeprint"));
const sizes = [...document.querySelectorAll("body *")].filter((one) => one.checkVisibility()
  && [...one.childNodes].some((child) => child.nodeType === 3 && child.data.trim())).map((one) => {
    const drawn = one.ownerSVGElement?.getScreenCTM().a ?? 1;
    return [drawn * parseFloat(getComputedStyle(one).fontSize), one.textContent.slice(0, 40)];
  });
window.dispatchEvent(new Event("afterprint"));
return sizes.sort((a, b) => a[0] - b[0])[0];"""
BLOCKS = """return [...document.querySelectorAll("#ribbon rect.block")]
  .filter((one) => one.getBoundingClientRect().height > 5).length"""
SHEET = {"width": 703, "height": 1000, "deviceScaleFactor": 1, "mobile": False}
"""CSS pixels between the margins of A4."""


@pytest.mark.parametrize(
    ("name", "sheets"),
    [
        ("inherited-core-shell", 1),
        ("decide/brewery-core-shell", 1),
        ("long", 2),
        ("long and measured", 2),
    ],
)
def test_it_prints_on_one_sheet_and_can_be_read(bench, name, sheets):
    from selenium.common.exceptions import WebDriverException

    long = name.startswith("long")
    path = START if long else FOLDER / f"{name}.toml"
    text = path.read_text("utf-8")
    bench.open(lengthened(text) if long else text)
    if "measured" in name:
        bench.open(measured_peaks(), "run.csv")
        assert len(bench.cells("measured")) == 12
    bench.click("tick-1")
    bench.ordered()
    paper = {"preferCSSPageSize": True, "printBackground": True}
    bench.driver.execute_cdp_cmd("Page.printToPDF", paper | {"pageRanges": "1"})
    with pytest.raises(WebDriverException, match=r"[Pp]age range"):
        bench.driver.execute_cdp_cmd("Page.printToPDF", paper | {"pageRanges": f"{sheets + 1}"})
    bench.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    bench.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", SHEET)
    try:
        size, words = bench.run(LETTERS)
        assert size >= 7 * 96 / 72, words
        assert bench.run("return document.documentElement.scrollWidth") <= SHEET["width"]
        assert bench.run(BLOCKS) == len(bench.run("return document.querySelectorAll('#path > li')"))
    finally:
        bench.driver.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
        bench.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def test_paper_tells_sizes_before_and_after_costs_and_few_measured_peaks(bench):
    def printed(of):
        return bench.run(
            f"""window.dispatchEvent(new Event("beforeprint"));
            return [...document.querySelectorAll("{of} tbody tr")].filter(one => one.offsetHeight)
              .map(one => one.innerText.split("\\t").map(cell => cell.trim()))"""
        )

    bench.open(START.read_text("utf-8"))
    bench.click("tick-1")
    bench.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        (row,) = printed("#ticked")
        cell = "flow cell, {} µL, mixed as 2 tanks"
        sizes = [cell.format("13"), cell.format("2.5")]
        assert row == ["small flow cell", "flow cell", *sizes, "900", "30 min"]
        for count, told in ((3, 3), (12, 1)):
            bench.open(measured_peaks(count), "run.csv")
            assert len(printed("#measured")) == told
    finally:
        bench.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
