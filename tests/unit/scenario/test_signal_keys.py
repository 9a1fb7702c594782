"""Amount, absorptivity and noise: read, tied together, and handed on."""

import numpy as np
import pytest

import tailrace
from tailrace.errors import ScenarioError

SCENARIO = """\
[method]
flow = "1 mL/min"
viscosity = "1 mPa*s"
[[solutes]]
name = "known"
diffusivity = "1e-9 m^2/s"
amount = "2 nmol"
absorptivity = "12000 L/mol/cm"
[[solutes]]
name = "unknown"
diffusivity = "1e-9 m^2/s"
[injection]
shape = "plug"
volume = "5 uL"
[[path]]
name = "cell"
part = "cell"
volume = "8 uL"
[detector]
time_constant = "0.1 s"
noise = "0.02 mAU"
noise_time_constant = "1 s"
"""


@pytest.fixture
def load(tmp_path):
    """Function of two texts: the scenario with the first replaced by the second."""

    def loaded(old="", new=""):
        path = tmp_path / "case.toml"
        assert old in SCENARIO
        path.write_text(SCENARIO.replace(old, new, 1) if old else SCENARIO)
        return tailrace.load(path)

    return loaded


def test_they_reach_the_journey_in_si(load):
    passages = load().itinerary().passages
    detector, passing = passages[-1]
    # 12 000 L/mol/cm are 1200 m^2/mol: 1e-3 m^3 over 1e-2 m.
    assert passing.amount == pytest.approx([2e-9, np.nan], nan_ok=True)
    assert passing.absorptivity == pytest.approx([1200.0, np.nan], nan_ok=True)
    assert (detector.noise, detector.noise_time_constant) == pytest.approx((2e-5, 1.0))


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        ('noise_time_constant = "1 s"\n', "", "detector.noise: expected noise with the time"),
        ('noise = "0.02 mAU"\n', "", 'found only noise_time_constant; add noise = "0.02 mAU"'),
        ('"0.02 mAU"', '"0.02 mau"', 'write "0.02 mAU"'),
        ('"0.02 mAU"', "0.02", "a bare number"),
        ('"0.02 mAU"', '"2 %"', "is not a unit of"),
        ('"2 nmol"', '"2 ug"', "expected an amount of substance"),
        ('"12000 L/mol/cm"', '"12000 L/mol"', "expected a molar absorptivity"),
    ],
)
def test_what_is_wrong_is_one_sentence(load, old, new, text):
    with pytest.raises(ScenarioError) as caught:
        load(old, new)
    assert len(caught.value.problems) == 1
    assert text in caught.value.problems[0]


def test_what_is_taken_for_granted_is_said(load):
    text = load().assumptions()
    assert "solutes: equal amounts on the chromatogram, as not all are given" in text
    assert "cell (no light path given; signals are compared by concentration alone)" in text[-1]
    assert "detector: noise carried over from 1 s to this response as white noise" in text
    without = load('noise = "0.02 mAU"\nnoise_time_constant = "1 s"\n').assumptions()
    assert "detector (no noise given; none is computed)" in without[-1]
