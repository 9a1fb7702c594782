"""The bench in a browser, printed: one sheet that can be read."""

import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
from reference.benches import FOUND, START

from tailrace.scenario.toml import as_toml

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")
FOLDER = Path(__file__).parents[2] / "scenarios"


def lengthened(text):
    """A scenario of sixteen parts, and twelve changes."""
    tables = tomllib.loads(text)
    tubes = [tables["path"][1] | {"name": f"tube {k}", "length": "120 mm"} for k in range(9)]
    tables["path"][3:3] = tubes
    tables["changes"] += [
        {"name": f"narrow {one['name']}", "cost": 10, "set": {one["name"]: {"bore": "0.12 mm"}}}
        for one in tubes
    ]
    del tables["changes"][12:]
    assert len(tables["path"]) == 16
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
TICKS = "for (const one of arguments[0]) document.getElementById(one).click();"
SHEET = {"width": 725, "height": 1000, "deviceScaleFactor": 1, "mobile": False}
"""CSS pixels between the margins of A4."""


@pytest.mark.parametrize(
    ("name", "peaks", "ticked"),
    [
        ("inherited-core-shell", 0, [1]),
        ("decide/brewery-core-shell", 6, [1]),
        ("long", 0, [1]),
        ("long", 6, range(12)),
    ],
)
def test_it_prints_on_one_sheet_and_can_be_read(bench, name, peaks, ticked):
    from selenium.common.exceptions import WebDriverException

    long = name == "long"
    path = START if long else FOLDER / f"{name}.toml"
    text = path.read_text("utf-8")
    bench.open(lengthened(text) if long else text)
    if peaks:
        bench.open(measured_peaks(peaks), "run.csv")
        assert len(bench.cells("measured")) == peaks
    bench.run(TICKS, [f"tick-{one}" for one in ticked])
    bench.settled()
    bench.ordered()
    paper = {"preferCSSPageSize": True, "printBackground": True}
    bench.driver.execute_cdp_cmd("Page.printToPDF", paper | {"pageRanges": "1"})
    with pytest.raises(WebDriverException, match=r"[Pp]age range"):
        bench.driver.execute_cdp_cmd("Page.printToPDF", paper | {"pageRanges": "2"})
    bench.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    bench.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", SHEET)
    try:
        size, words = bench.run(LETTERS)
        assert size >= 7 * 96 / 72, words
        assert bench.run("return document.documentElement.scrollWidth") <= SHEET["width"]
        # injection and detector are no parts of the path
        assert bench.run(BLOCKS) == len(bench.cells("parts")) - 2
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
        for count, told in ((3, 3), (12, 0)):
            bench.open(measured_peaks(count), "run.csv")
            assert len(printed("#measured")) == told
        # which is the highest hangs on the noise: all are drawn 10 high, 3.53 s wide
        words = bench.text("measured")
        assert re.search(r"Of 12 peaks only .* is printed: apex .* s, height 10\.0", words)
        assert "width at half height 3.53" in words
    finally:
        bench.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
