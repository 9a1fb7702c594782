"""Dead volume does not count as efficiency: plates are told at the column's own retention."""

from dataclasses import replace

import numpy as np
import pytest

import tailrace
from tailrace.records.separation import kept_fraction
from tailrace.report.run import as_json
from tailrace.report.sentences import conclusion
from tailrace.scenario.scenario import Scenario

GUARD = """
[method]
flow = "0.5 mL/min"
viscosity = "0.5 mPa*s"
[[solutes]]
name = "a"
retention_factor = 5.0
diffusivity = "1e-9 m^2/s"
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "guard"
part = "column"
bore = "2.1 mm"
length = "10 mm"
particle_diameter = "5 um"
plates = 300
[[path]]
name = "tube"
part = "tube"
bore = "0.05 mm"
length = "250 mm"
[[path]]
name = "cell"
part = "cell"
volume = "0.25 uL"
[[changes]]
name = "longer tube"
set = { tube = { length = "4000 mm" } }
"""


@pytest.fixture(scope="module")
def result():
    return tailrace.run(Scenario.from_text(GUARD))


def test_no_more_is_kept_than_the_column_gives(result):
    assert result.recorded["plates_half_height"][0] > 300  # by the recorded time
    assert kept_fraction(result)[0] == pytest.approx(0.9966, abs=2e-4)
    told = as_json(result, "", "", "")["solutes"][0]["recorded"]
    width = result.recorded["width_half"][0]
    # 8 ln 2 (t/W)^2, the time that of the column alone
    own = 8 * np.log(2) * (result.column_alone["apex"][0] / width) ** 2
    assert told["plates_own_retention"] == pytest.approx(own, rel=1e-12)


def test_more_than_the_column_gives_is_told_with_its_reason(result):
    plates = {"plates_own_retention": np.array([330.0])}
    narrow = replace(result, recorded={**result.recorded, **plates})
    assert "more than 100 % since" in conclusion(narrow)
    missing = {**narrow.recorded, "amount_recovered": np.array([0.076])}
    assert "not resolved" in conclusion(replace(narrow, recorded=missing))


def test_a_longer_tube_is_no_improvement():
    made = tailrace.improve(Scenario.from_text(GUARD))
    assert made.outcome == "no gain"
    assert made.changes[0].alone < 0


def test_sweep_and_tolerance_use_the_same_plates():
    made = tailrace.sweep(Scenario.from_text(GUARD), ["tube.length = 250, 4000 mm"])
    short, long = made.metrics["recorded/plates_own_retention"][:, 0]
    assert short > long
    limit = '[[accept]]\nmeasure = "plates at own retention"\nat_least = 298\n'
    assert Scenario.from_text(GUARD + limit).document.accept
