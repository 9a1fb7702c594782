"""The eluent's composition as an uncertain input, against linear solvent strength by hand."""

import numpy as np
import pytest
from reference.tolerances import SCENARIO

import tailrace
from tailrace.eluent.viscosity import viscosity
from tailrace.errors import ScenarioError
from tailrace.scenario.build import itinerary
from tailrace.studies.axes import cases_of
from tailrace.studies.samples import as_axis, sampled
from tailrace.studies.tolerance import answer, plan

MIXED = (
    SCENARIO.replace('viscosity = "0.6 mPa*s"', "eluent = { water = 0.6, acetonitrile = 0.4 }")
    .replace("retention_factor = 2.0", "retention_factor = 2.0\ns = 4.0")
    .replace("retention_factor = 3.0", "retention_factor = 3.0\ns = 3.0")
)
ROW = """
[[uncertain]]
field = "method.eluent.acetonitrile"
distribution = "normal"
standard_deviation = 0.01
"""


def loaded(folder, text):
    file = folder / "mixed.toml"
    file.write_text(text)
    return tailrace.load(file)


def stream_of(journey):
    return next(liquid for part, liquid in journey.passages if part.separates)


def test_retention_viscosity_and_diffusivity_follow(tmp_path):
    scenario = loaded(tmp_path, MIXED + ROW)
    samples = sampled(scenario, 1, 1).with_scores(np.array([[1.0], [-1.0]]), "random")
    base = stream_of(itinerary(scenario))
    for sign, journey in zip((1, -1), samples.itineraries(scenario), strict=True):
        found = stream_of(journey)
        strong = 0.4 + sign * 0.01
        thick = float(viscosity({"water": 1 - strong, "acetonitrile": strong}, 308.15))
        assert found.viscosity == pytest.approx(thick, rel=1e-12)
        np.testing.assert_allclose(
            found.retention_factor,
            np.array([2.0, 3.0]) * 10 ** (-np.array([4.0, 3.0]) * (strong - 0.4)),
        )
        # temperature over viscosity
        np.testing.assert_allclose(
            found.diffusivity, base.diffusivity * base.viscosity / thick, rtol=1e-12
        )


def test_a_sample_is_what_a_file_with_it_is(tmp_path):
    scenario = loaded(tmp_path, MIXED + ROW)
    samples = sampled(scenario, 3, 1)
    axis = as_axis(samples.inputs[0], samples.values()[:, 0])
    for journey, case in zip(
        samples.itineraries(scenario), cases_of(scenario, (axis,)), strict=True
    ):
        one, other = stream_of(journey), stream_of(itinerary(case))
        np.testing.assert_allclose(one.retention_factor, other.retention_factor, rtol=1e-12)
        np.testing.assert_allclose(one.diffusivity, other.diffusivity, rtol=1e-12)
        assert one.viscosity == pytest.approx(other.viscosity, rel=1e-12)


def test_spread_of_retention_is_that_of_strength(tmp_path):
    accept = '\n[[accept]]\nmeasure = "retention factor"\nsolute = "one"\nat_least = 1.8\n'
    found = answer(plan(loaded(tmp_path, MIXED + ROW + accept), samples=40, seed=3))
    (one,) = found.outcomes
    # d ln k = -ln 10 s d(strong)
    change = np.log(10) * 4.0 * 0.01
    assert one.linearised.standard_uncertainty / one.nominal == pytest.approx(change, rel=0.05)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (MIXED.replace("\ns = 3.0", "") + ROW, "found two without; add s = 4"),
        (MIXED + ROW + ROW.replace("acetonitrile", "water"), "found two"),
        (SCENARIO + ROW, "viscosity is estimated"),
    ],
)
def test_what_cannot_follow_is_refused(tmp_path, text, said):
    with pytest.raises(ScenarioError, match=said):
        loaded(tmp_path, text)
