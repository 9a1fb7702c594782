"""The engine and the page with sliders in a browser: how soon is the answer, and the picture?

    python benchmarks/browser.py     # needs chromium with its driver, and pip install -e ".[test]"

Medians of several; fails where they are above their bars, which hold on an idle machine.
"""

import json
import sys
import tempfile
import tomllib
from contextlib import contextmanager
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))
SCENARIO = ROOT / "scenarios" / "inherited-core-shell.toml"
PAGE = ROOT / "scenarios" / "pages" / "inherited-core-shell.html"
FRAME = 1000 / 60
LOADED, TEN = 1000.0, 100.0
"""ms."""
MOVES = """const done = arguments[0], slider = document.getElementById("slider-0"), taken = [];
const move = () => {
  slider.value = 60 * taken.length;
  const begun = performance.now();
  slider.dispatchEvent(new Event("input"));
  document.getElementById("picture").getBoundingClientRect();
  taken.push(performance.now() - begun);
  taken.length < 40 ? setTimeout(move, 20) : done(taken.slice(10));
};
move();"""
LOADS = """const look = () => {
  const end = performance.getEntriesByType("navigation")[0].loadEventEnd;
  end ? arguments[0](end) : setTimeout(look);
};
look();"""
ASKS = """const taken = [], given = JSON.parse(arguments[0]);
for (let turn = 0; turn < 40; turn += 1) {
  given.path[1].length = `${100 + turn} mm`;
  taken.push(engine.answer(given).milliseconds);
}
return taken.slice(10);"""
ORDERS = """return engine.bestOrder(JSON.parse(arguments[0])).milliseconds;"""


@contextmanager
def browser():
    """A browser without a window."""
    from reference.slider_pages import chromium
    from selenium import webdriver

    found = chromium()
    if found is None:
        sys.exit("expected chromium and chromedriver, found none; install them")
    options = webdriver.ChromeOptions()
    options.binary_location = str(found[0])
    with tempfile.TemporaryDirectory() as folder:
        for switch in ("--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder}"):
            options.add_argument(switch)
        driver = webdriver.Chrome(options, webdriver.ChromeService(str(found[1])))
        try:
            yield driver, Path(folder)
        finally:
            driver.quit()


def with_solutes(count):
    """The scenario with so many solutes, one after the other."""
    tables = tomllib.loads(SCENARIO.read_text(encoding="utf-8"))
    one = tables["solutes"][0] | {"retention_factor": 1.0}
    tables["solutes"] = [
        one | {"name": f"solute {n}", "retention_factor": 1.0 + 0.6 * n} for n in range(count)
    ]
    return tables


def measured(driver, folder):
    """What is measured, ms, and its bar, ms; None: it has none."""
    loads = []
    for _ in range(5):
        driver.get(PAGE.as_uri())
        loads.append(driver.execute_async_script(LOADS))
    driver.execute_async_script("setTimeout(arguments[0], 4000)")
    moves = driver.execute_async_script(MOVES)
    from tailrace.web.assemble import ROOM, assembled
    from tailrace.web.facts import facts

    entry = ROOM / "engine" / "standalone.js"
    page = folder / "engine.html"
    page.write_text(assembled(entry, title="engine", body="", data={"facts": facts()}))
    driver.get(page.as_uri())
    one, ten = (
        median(driver.execute_script(ASKS, json.dumps(with_solutes(count)))) for count in (1, 10)
    )
    order = driver.execute_script(ORDERS, json.dumps(tomllib.loads(SCENARIO.read_text())))
    return {
        "page opened, first picture": (median(loads), LOADED),
        "slider to picture, three solutes": (median(moves), FRAME),
        "one field changed, one solute": (one, FRAME),
        "one field changed, ten solutes": (ten, TEN),
        "all combinations of the scenario's changes": (order, None),
    }


def main():
    """Print each beside its bar."""
    with browser() as (driver, folder):
        rows = measured(driver, folder)
    for name, (value, bar) in rows.items():
        print(f"{name:44s} {value:8.1f} ms" + (f", bar {bar:.1f}" if bar else ""))
    sys.exit(any(bar is not None and value > bar for value, bar in rows.values()))


if __name__ == "__main__":
    main()
