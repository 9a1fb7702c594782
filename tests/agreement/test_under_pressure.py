"""Viscosity and diffusivity at the pressure of the place, against the path integrated as an ODE."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tailrace.eluent.viscosity import ATMOSPHERE, pressure_factor
from tailrace.errors import ScenarioError
from tailrace.journey import travel
from tailrace.journey.hydraulics import drops_of, pressure
from tailrace.scenario.scenario import Scenario

MIXED = {"water": 0.4, "acetonitrile": 0.6}
TEXT = """
[method]
flow = "0.5 mL/min"
temperature = "30 degC"
eluent = { water = 0.4, acetonitrile = 0.6 }
pressure_dependence = true
[[solutes]]
name = "solute"
retention_factor = 2
diffusivity = "1.2e-9 m^2/s"
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
part = "tube"
name = "inlet tube"
bore = "0.1 mm"
length = "400 mm"
[[path]]
part = "column"
name = "column"
bore = "2.1 mm"
length = "100 mm"
particle = "core-shell"
particle_diameter = "1.6 um"
[[path]]
part = "tube"
name = "restrictor"
bore = "0.06 mm"
length = "200 mm"
[[path]]
part = "cell"
name = "cell"
volume = "1 uL"
"""


@pytest.fixture(scope="module")
def both():
    """The path with and without the effect of pressure."""
    without = TEXT.replace("pressure_dependence = true", "")
    return [Scenario.from_text(one).itinerary() for one in (TEXT, without)]


def test_pressures_are_those_of_the_path_integrated(both):
    under, low = both
    drops = drops_of(low.passages)
    ends = ATMOSPHERE
    for name in reversed(drops):  # Hagen-Poiseuille, Kozeny-Carman: dp/dz = (dp/dz)_0 eta/eta_0
        slope = float(drops[name][0])
        found = solve_ivp(
            lambda _, p, slope=slope: slope * pressure_factor(MIXED, 303.15, p),
            (0, 1), [ends], rtol=1e-9,
        )  # fmt: skip
        ends = float(found.y[0, -1])
    total = pressure(under.passages).total
    assert ends > 1.1 * pressure(low.passages).total > 6e7
    assert total == pytest.approx(ends - ATMOSPHERE, rel=2e-3)


def test_diffusivity_goes_as_one_over_viscosity(both):
    under, low = both
    behind = 0.0
    for (part, stream), (_, plain) in zip(
        reversed(under.passages), reversed(low.passages), strict=True
    ):
        drop = float(np.max(part.pressure_drop(stream))) if part.carries_flow else 0.0
        within = ATMOSPHERE + behind + drop * np.linspace(0, 1, 101)
        factor = 1 / np.mean(1 / pressure_factor(MIXED, 303.15, within))
        assert stream.viscosity == pytest.approx(plain.viscosity * factor, rel=1e-3)
        assert stream.viscosity * stream.diffusivity == pytest.approx(
            plain.viscosity * plain.diffusivity, rel=1e-12
        )
        behind += drop


def test_the_recorded_peak_is_wider(both):
    under, low = (travel(one).recorded["width_half"][0] for one in both)
    assert 1.005 < under / low < 1.06


def test_an_unknown_eluent_is_refused():
    text = TEXT.replace("eluent = { water = 0.4, acetonitrile = 0.6 }", 'viscosity = "0.6 mPa*s"')
    with pytest.raises(ScenarioError, match="pressure_dependence: expected an eluent"):
        Scenario.from_text(text)
