"""The bench in a browser: what it says only where it is so, and where it says it."""

import csv
import io

import numpy as np
import pytest
from reference.benches import FOUND, START

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")
KEPT = """window.kept = null;
URL.createObjectURL = (blob) => {
  blob.text().then((text) => { window.kept = text; });
  return "#";
};"""


def signal(noise):
    """Two peaks, the second so low that noise hides its shape."""
    time = np.arange(40.0, 130.0, 0.1)
    heights = 100 * np.exp(-((time - 60) ** 2) / 2) + 10 * np.exp(-((time - 100) ** 2) / 2)
    heights += noise * np.random.default_rng(1).standard_normal(time.size)
    rows = (f"{t:.2f},{height:.5f}" for t, height in zip(time, heights, strict=True))
    return "time (s),signal (mAU)\n" + "\n".join(rows) + "\n"


def test_what_is_not_resolved_is_explained_only_where_something_is_not(bench):
    bench.open(signal(0.001), "run.csv")
    assert "not resolved" not in bench.text("measured").lower()
    assert "tailrace measure" in bench.text("measured")
    bench.open(signal(0.9), "run.csv")
    cells = [one for row in bench.cells("measured").values() for one in row]
    assert "not resolved" in cells
    assert "Not resolved: noise changes it by more than half" in bench.text("measured")


def test_the_curves_are_saved_and_their_points_counted(bench):
    bench.run(KEPT)
    bench.click("curves")
    heads, *rows = csv.reader(io.StringIO(bench.run("return window.kept")))
    assert heads == ["time_s", "recorded", "column_alone", "textbook"]
    assert f"{START.stem}.csv: {len(rows)} points, all of them" in bench.text("said")


def test_what_several_ticked_changes_make_together_is_called_so(bench):
    def heads():
        bench.driver.execute_async_script("setTimeout(arguments[0], 100)")
        cells = "[...document.querySelectorAll('#ticked thead th')]"
        return bench.run(f"return {cells}.map((one) => one.textContent)")

    bench.click("tick-1")
    assert heads()[3] == "after"
    bench.click("tick-2")
    assert heads()[3] == "after, with all of them"
