"""Where the page lays a measured signal over what is recorded."""

import json
from pathlib import Path

import numpy as np
import pytest
from reference import javascript

from tailrace.web import assemble

pytestmark = pytest.mark.skipif(bool(javascript.missing()), reason=javascript.missing())
OVERLAY = Path(assemble.__file__).parent / "bench" / "overlay.js"


@pytest.fixture(scope="module")
def ask():
    racer = pytest.importorskip("py_mini_racer")
    context = racer.MiniRacer()
    page = "const addEventListener = () => {}; class ResizeObserver {}\n"
    context.eval(page + assemble.bundled(OVERLAY))

    def laid(*given):
        text = json.dumps(json.dumps(given))
        found = f"chartedSignal(...JSON.parse({text}))"
        return json.loads(context.eval(f"JSON.stringify({found})"))

    return laid


@pytest.mark.parametrize(("apex", "height"), [(64.0, 100.0), (84.0, 40.0)])
def test_the_ticked_peak_is_laid_on_that_of_the_solute_that_is_shown(ask, apex, height):
    time = np.arange(0, 160, 0.25)
    peak = lambda centre: np.exp(-(((time - centre) / 2) ** 2) / 2)  # noqa: E731
    recorded = 100 * peak(64) + 40 * peak(84)
    values = 3 + 7 * peak(70) + 5 * peak(90)
    trace = {"time": [*time], "recorded": [*recorded]}
    signal = {"time": [*time], "values": [*values]}
    ticked = {"apex": 90.0, "height": 5.0, "ground": 3.0}
    found = ask({"signal": signal, "peak": ticked, "aligned": True}, {"trace": trace}, apex)
    at = int(np.argmin(np.abs(time - 90)))
    assert found["time"][at] == pytest.approx(apex)
    assert found["values"][at] == pytest.approx(height, rel=1e-6)
    loose = ask({"signal": signal, "peak": ticked, "aligned": False}, {"trace": trace}, apex)
    assert loose["time"] == signal["time"]
    assert loose["values"][at] == pytest.approx(100, rel=1e-6)
