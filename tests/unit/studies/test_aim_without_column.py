"""`improve` on a path with a union in place of the column: the variance is what is bettered."""

import pytest

import tailrace
from tailrace.report.improvement.printed import as_text
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError

UNION = """
title = "a union"
[method]
flow = "0.3 mL/min"
eluent = { water = 0.5, acetonitrile = 0.5 }
[[solutes]]
name = "one"
diffusivity = "1.1e-9 m^2/s"
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "valve"
part = "tube"
bore = "0.25 mm"
length = "200 mm"
[[path]]
name = "tube to cell"
part = "tube"
bore = "0.17 mm"
length = "400 mm"
[[path]]
name = "flow cell"
part = "cell"
volume = "2 uL"
[[changes]]
name = "bypass the valve"
remove = ["valve"]
"""


def test_bypassing_a_valve_gains_by_the_variance():
    improvement = tailrace.improve(Scenario.from_text(UNION))
    assert improvement.aim.key == "variance"
    before, after = improvement.combinations.value
    assert after < before
    direct = tailrace.run(Scenario.from_text(UNION)).recorded["variance_volume_extra_column"][0]
    assert before == pytest.approx(direct, rel=1e-9)


def test_plates_without_a_column_are_refused_and_the_unit_is_that_of_people():
    scenario = Scenario.from_text(UNION)
    with pytest.raises(StudyError, match="take --aim variance"):
        tailrace.improve(scenario, aim="plates")
    text = as_text(tailrace.improve(scenario), "")
    assert "extra-column variance (uL^2) from 31.8 to 13.8 (one)" in text
    assert "e-17" not in text
