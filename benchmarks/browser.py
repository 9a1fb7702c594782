"""The engine, the bench, the page with sliders in a browser: how soon is the answer, the picture?

    python benchmarks/browser.py     # needs chromium with its driver, and pip install -e ".[test]"

Medians of many; fails where they are above their bars, which hold on an idle machine. Of the bench
the least of three such medians, since what else runs on the machine can only add to them; the
processor time of the page's thread hangs less on that.
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
OPENED = """const look = () => {
  const drawn = () => setTimeout(() => arguments[0](performance.now()));
  document.body.ariaBusy ? setTimeout(look) : requestAnimationFrame(drawn);
};
look();"""
TYPED = """const done = arguments[0], taken = [];
const field = document.getElementById("field-path-1-length");
const turn = (n) => {
  let framed = 0;
  requestAnimationFrame(() => { framed = performance.now(); });
  const begun = performance.now();
  field.value = `${100 + n} mm`;
  field.dispatchEvent(new Event("input", { bubbles: true }));
  const handled = performance.now() - begun;
  requestAnimationFrame(() => {
    // comes once the frame is laid out and painted
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = () => {
      taken.push(handled + performance.now() - framed);
      taken.length < 160 ? setTimeout(() => turn(n + 1), 30) : done(taken.slice(40));
    };
    port2.postMessage(0);
  });
};
turn(0);"""
"""Of one field of the bench: what is done at once, and the frame that it asks for, to its end."""
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


def typed(driver, folder, count):
    """Times from a field of the bench to the painted picture, and processor time, ms."""
    from tailrace.scenario.toml import as_toml
    from tailrace.web.bench_page import bench_page

    page = folder / f"bench-{count}.html"
    page.write_text(bench_page(as_toml(with_solutes(count)), SCENARIO.name), encoding="utf-8")
    driver.get(page.as_uri())
    loaded = driver.execute_async_script(OPENED)
    driver.execute_script("document.getElementById('row-path-1').click()")
    driver.execute_cdp_cmd("Performance.enable", {"timeDomain": "threadTicks"})
    before = spent(driver)
    taken = driver.execute_async_script(TYPED)
    busy = (spent(driver) - before) / 160
    driver.execute_cdp_cmd("Performance.disable", {})
    return loaded, median(taken), busy


def spent(driver):
    """Processor time of the page's thread, ms."""
    told = driver.execute_cdp_cmd("Performance.getMetrics", {})["metrics"]
    return 1e3 * next(one["value"] for one in told if one["name"] == "TaskDuration")


def measured(driver, folder):
    """What is measured, ms, and its bar, ms; None: it has none."""
    loads = []
    for _ in range(5):
        driver.get(PAGE.as_uri())
        loads.append(driver.execute_async_script(OPENED))
    driver.execute_async_script("setTimeout(arguments[0], 4000)")
    moves = driver.execute_async_script(MOVES)
    driver.set_script_timeout(120)
    (opened, picture, busy), (_, pictures, busy_of_ten) = (
        map(min, zip(*(typed(driver, folder, count) for _ in range(3)), strict=True))
        for count in (1, 10)
    )
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
        "bench opened, first picture": (opened, LOADED),
        "bench, a field typed to picture painted": (picture, FRAME),
        "bench, the same of ten solutes": (pictures, TEN),
        "  processor time until tables follow, one": (busy, None),
        "  processor time until tables follow, ten": (busy_of_ten, None),
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
