"""The bench, the page with sliders and the lessons as axe-core sees them: nothing serious."""

import shutil
import subprocess
import tarfile
from pathlib import Path

import numpy as np
import pytest
from reference.benches import FOUND, Bench, browser

from tailrace.web.bench_page import bench_page

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")
FOLDER = Path(__file__).parents[2] / "scenarios"
START = FOLDER / "inherited-core-shell.toml"
PAGES = {
    "bench": None,
    "sliders": FOLDER / "pages" / "inherited-core-shell.html",
    "lessons": FOLDER / "pages" / "lessons.html",
}


@pytest.fixture(scope="module")
def axe(tmp_path_factory):
    folder = tmp_path_factory.mktemp("axe")
    asked = ["npm", "pack", "--silent", "axe-core@4.14.1"]
    if shutil.which("npm") is None or subprocess.run(asked, cwd=folder, check=False).returncode:
        pytest.skip("needs axe-core from the npm registry")
    with tarfile.open(next(folder.glob("*.tgz"))) as archive:
        return archive.extractfile("package/axe.min.js").read().decode()


@pytest.fixture(scope="module")
def seen(tmp_path_factory):
    folder = tmp_path_factory.mktemp("seen")
    page = folder / "bench.html"
    page.write_text(bench_page(START.read_text("utf-8"), START.name), encoding="utf-8")
    with browser(folder / "profile") as driver:
        yield Bench(driver, page, folder), page


def signal():
    """A measured peak as columns."""
    times = np.arange(40.0, 90.0, 0.1)
    heights = np.exp(-0.5 * ((times - 60) / 1.2) ** 2)
    rows = (f"{time:.2f},{height:.5f}" for time, height in zip(times, heights, strict=True))
    return "time (s),signal (mAU)\n" + "\n".join(rows) + "\n"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 390])
@pytest.mark.parametrize("name", PAGES)
def test_nothing_serious_for_a_screen_reader(seen, axe, name, width, scheme):
    bench, page = seen
    bench.page = PAGES[name] or page
    size = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 500}
    media = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    bench.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    bench.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", media)
    bench.visit()
    if name == "bench":
        bench.open(signal(), "run.csv")
        for row in ("row-path-1", "tick-1", "pin"):
            bench.click(row)
    bench.run("for (const one of document.querySelectorAll('details')) one.open = true")
    bench.run(axe)
    found = bench.driver.execute_async_script(
        "const done = arguments[0]; axe.run().then((found) => done(found.violations));"
    )
    told = [(one["id"], one["impact"], one["nodes"][0]["html"][:200]) for one in found]
    assert [one for one in told if one[1] in ("serious", "critical")] == []
