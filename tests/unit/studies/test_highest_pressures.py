"""With a gradient, studies take the pressure of the most viscous liquid of the programme."""

import re
from pathlib import Path

import numpy as np
import pytest

from tailrace.journey.hydraulics import pressure
from tailrace.scenario.criteria import criteria_of
from tailrace.scenario.scenario import Scenario
from tailrace.studies.runner import Runner
from tailrace.studies.sweeping import answer, plan
from tailrace.studies.tolerance.first_order import closed_forms
from tailrace.studies.tolerance.models import measured

FILE = Path(__file__).parents[3] / "scenarios" / "gradient-core-shell.toml"
ASKED = """
[[accept]]
measure = "pressure"
at_most = "300 bar"

[[accept]]
measure = "cell pressure"
at_most = "60 bar"
"""
WASTE = '[[path]]\nname = "waste"\npart = "tube"\nbore = "0.1 mm"\nlength = "1 m"\n\n'
FLOWS = "0.3 mL/min", "0.5 mL/min"


def filled(text, flow):
    """Pressures with nothing but the most viscous liquid, 30 % strong, in the path."""
    text = re.sub("^flow .*$", f'flow = "{flow}"', text, flags=re.M)
    thick = text.replace("water = 0.45, acetonitrile = 0.55", "water = 0.7, acetonitrile = 0.3")
    assert thick != text
    return pressure(Scenario.from_text(thick).itinerary().passages)


def test_sweeps_and_criteria_take_the_highest_pressure():
    text = FILE.read_text("utf-8").replace("[detector]", WASTE + "[detector]", 1) + ASKED
    scenario = Scenario.from_text(text)
    sweep = answer(plan(scenario, [f"method.flow = {', '.join(FLOWS)}"]), Runner())
    thick = [filled(text, flow) for flow in FLOWS]
    told = [sweep.case(at).pressure for at in range(2)]
    assert [one.highest for one in told] == pytest.approx([one.total for one in thick])
    assert [one.highest_at_cell for one in told] == pytest.approx([one.cell_inlet for one in thick])
    assert all(one.highest > 1.1 * one.total for one in told)
    whole, cell = criteria_of(scenario)
    for criterion, expected in (
        (whole, [one.total for one in thick]),
        (cell, [one.cell_inlet for one in thick]),
    ):
        values, errors = measured(criterion, sweep.metrics)
        assert values == pytest.approx(expected)
        assert not np.any(errors)
        (theory,) = closed_forms([criterion], sweep.plan.itineraries)
        assert theory == pytest.approx(expected)
