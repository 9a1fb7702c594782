"""Effects that are left out: their sizes against closed forms, and when a run tells them."""

from dataclasses import replace

import numpy as np
import pytest

import tailrace
from tailrace.eluent.stream import Stream
from tailrace.parts.behind import behind
from tailrace.parts.tube.part import ALONG, DEVELOPING, Tube
from tailrace.scenario import left_out
from tailrace.scenario.scenario import Scenario

STREAM = Stream(flow_rate=1e-8, diffusivity=np.array([1e-9]), viscosity=1e-3, density=1000.0)
LONG = Tube(name="tube", bore=0.1e-3, length=100.0)


def test_a_long_tube_follows_taylor_and_aris():
    # variance of a long tube: Taylor's goes with 1/D, and Aris adds 192/Pe^2 of it
    changes = LONG.left_out(STREAM, {"pressure": 0.8})
    assert changes["pressure"] == pytest.approx(1 / 0.8 - 1, rel=1e-2)
    assert changes[ALONG] == pytest.approx(192 / LONG.peclet_number(STREAM) ** 2, rel=1e-2)


def test_a_developing_flow_counts_by_its_length():
    # 0.056 Re bore, of a tube whose variance goes with its length
    share = 0.056 * LONG.reynolds_number(STREAM) * LONG.bore / LONG.length
    assert LONG.left_out(STREAM, {})[DEVELOPING] == pytest.approx(-share, rel=1e-2)
    stub = replace(LONG, length=0.1e-3)
    assert stub.left_out(STREAM, {})[DEVELOPING] == pytest.approx(-1.0)


def test_a_tube_behind_the_recording_leaves_nothing_out():
    assert behind(LONG).left_out(STREAM, {"pressure": 0.8}) == {}


TEXT = """\
[method]
flow = "{flow}"
eluent = {{ acetonitrile = 1.0 }}
[[solutes]]
name = "marker"
diffusivity = "3e-9 m^2/s"
[injection]
shape = "plug"
volume = "0.01 uL"
[[path]]
name = "tube"
part = "tube"
bore = "{bore}"
length = "{length}"
bend_radius = "straight"
"""


def told(flow, bore, length):
    scenario = Scenario.from_text(TEXT.format(flow=flow, bore=bore, length=length))
    return " ".join(left_out.left_out(scenario, tailrace.run(scenario)))


def test_a_run_tells_what_moves_the_width_by_a_percent():
    assert told("0.2 mL/min", "0.17 mm", "500 mm") == ""
    assert "diffusion along the tubes" in told("0.1 uL/min", "0.5 mm", "50 mm")
    narrow = told("1.5 mL/min", "0.05 mm", "500 mm")
    assert left_out.PRESSURE in narrow and left_out.HEAT in narrow
    assert "still developing" in told("2 mL/min", "0.17 mm", "20 mm")


def test_liquids_warm_by_the_pressure_that_they_lose():
    # 400 bar, no heat lost: (1 - alpha T) dp/(rho c), about 9 K for water
    method = Scenario.from_text(
        TEXT.format(flow="1 mL/min", bore="1 mm", length="1 m")
    ).document.method
    assert left_out._warmer(method, 4e7) == pytest.approx(0.6 * 4e7 / 1.9e6, rel=1e-6)
    # Lucas (1981) as an open library evaluates it, for want of an eluent acetonitrile
    assert left_out._thicker(method, 298.15, 1e8) == pytest.approx(1.63, rel=0.01)
    under = method.model_copy(update={"pressure_dependence": True})
    assert left_out._thicker(under, 298.15, 1e8) == 1.0
