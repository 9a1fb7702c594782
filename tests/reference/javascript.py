"""The JavaScript engine called from Python: in V8 as pip installs it, or in node."""

import importlib.util
import json
import shutil
import subprocess
from functools import lru_cache
from pathlib import Path

from tailrace.web import assemble
from tailrace.web.facts import facts

ENGINE = Path(assemble.__file__).parent / "engine"
ASK = """
engine.useFacts(JSON.parse(FACTS));
function ask(name, given) {
  const made = engine[name](...JSON.parse(given));
  return JSON.stringify(made, (_, value) =>
    value instanceof Float64Array ? [...value] : value === undefined ? null : value);
}
"""


def missing():
    """Why no JavaScript can be run; empty if it can."""
    found = importlib.util.find_spec("py_mini_racer") or shutil.which("node")
    return "" if found else "needs mini-racer from PyPI or node"


@lru_cache
def engine():
    """A function that calls the engine's functions by name, with JSON there and back."""
    script = assemble.bundled(ENGINE / "index.js")
    text = f"{script}\nconst FACTS = {json.dumps(assemble.as_json(facts()))};\n{ASK}"
    if importlib.util.find_spec("py_mini_racer"):
        from py_mini_racer import MiniRacer

        context = MiniRacer()
        context.eval(text)
        return lambda name, *given: json.loads(context.call("ask", name, json.dumps(given)))
    return lambda name, *given: _in_node(text, name, given)


def _in_node(text, name, given):
    text += f"console.log(ask({json.dumps(name)}, {json.dumps(json.dumps(given))}));"
    done = subprocess.run(
        [shutil.which("node"), "-"], input=text, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)
