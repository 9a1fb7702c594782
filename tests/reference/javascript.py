"""The JavaScript engine called from Python: in V8 as pip installs it, or in node."""

import importlib.util
import json
import shutil
import subprocess
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path

from tailrace.web import assemble
from tailrace.web.facts import facts

ENGINE = Path(assemble.__file__).parent / "engine"
REPLACER = """(_, value) =>
  value instanceof Float64Array ? [...value] : value === undefined ? null : value"""
ASK = f"""
engine.useFacts(JSON.parse(FACTS));
const ask = (name, given) =>
  JSON.stringify(engine[name](...JSON.parse(given)), {REPLACER});
"""


def missing():
    """Why no JavaScript can be run; empty if it can."""
    found = importlib.util.find_spec("py_mini_racer") or shutil.which("node")
    return "" if found else "needs mini-racer from PyPI or node"


@lru_cache
def engine():
    """A function that calls the engine's functions by name, with JSON there and back."""
    return engine_with(facts())


def engine_with(given):
    """The same with facts of its own."""
    script = assemble.bundled(ENGINE / "index.js")
    text = f"{script}\nconst FACTS = {json.dumps(assemble.as_json(given))};\n{ASK}"
    if importlib.util.find_spec("py_mini_racer"):
        from py_mini_racer import MiniRacer

        context = MiniRacer()
        context.eval(text)
        return lambda name, *given: json.loads(
            context.eval(f"ask({json.dumps(name)}, {json.dumps(json.dumps(given))})")
        )
    return lambda name, *given: _in_node(text, name, given)


def _call(name, *given):
    return f"ask({json.dumps(name)}, {json.dumps(json.dumps(given))})"


@contextmanager
def in_browser(folder):
    """As ``engine``, in chromium, from one file on disk."""
    from selenium import webdriver

    from reference.slider_pages import chromium

    found = chromium()
    page = folder / "engine.html"
    entry = ENGINE / "standalone.js"
    page.write_text(assemble.assembled(entry, title="", body="", data={"facts": facts()}))
    options = webdriver.ChromeOptions()
    options.binary_location = found[0]
    for switch in ("--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder}/own"):
        options.add_argument(switch)
    driver = webdriver.Chrome(options, webdriver.ChromeService(found[1]))
    script = "return JSON.stringify(engine[arguments[0]](...JSON.parse(arguments[1])), " + REPLACER
    try:
        driver.get(page.as_uri())
        yield lambda name, *given: json.loads(
            driver.execute_script(f"{script});", name, json.dumps(given))
        )
    finally:
        driver.quit()


def _in_node(text, name, given):
    text += f"console.log({_call(name, *given)});"
    done = subprocess.run(
        [shutil.which("node"), "-"], input=text, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)
