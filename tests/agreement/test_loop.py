"""An injection through a loop in the stream, against transfer functions and closed forms."""

import numpy as np
import pytest
from reference import transfer
from reference.journeys import FLOW, bands_behind, relative_l2, stream

from tailrace.errors import ScenarioError
from tailrace.journey.travelling import travel
from tailrace.measures import moments
from tailrace.parts import KINDS
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.tube.loop.part import Loop
from tailrace.scenario.scenario import Scenario
from tailrace.signals.cubic import sample

RESIDENCE, LENGTH = 2.0, 0.4
WAYS = {"backwards": (0.0, 0.25), "forwards": (0.75, 1.0)}
"""How much of the loop the first and the last of the sample pass."""


def loop(fourier, emptied="backwards", share=0.25):
    bore = np.sqrt(4 * RESIDENCE * FLOW / (np.pi * LENGTH))
    part = Loop(volume=share * RESIDENCE * FLOW, bore=bore, length=LENGTH, emptied=emptied)
    return part, stream(fourier * FLOW / (np.pi * LENGTH))


@pytest.mark.parametrize("emptied", WAYS)
@pytest.mark.parametrize("fourier", [0.05, 3.0])
def test_curve_against_the_transfer_functions_of_its_two_ways(fourier, emptied):
    """What was in the loop is the difference of two rinsed tubes: the integral of g_a - g_b over
    the filling time T, (G_a - G_b) / (i w T). A chamber behind it makes the edge a curve."""
    part, passing = loop(fourier, emptied)
    mixer = Chamber(name="mixer", volume=0.2 * FLOW, tanks=3)
    band = bands_behind((part, passing), (mixer, passing))[-1]
    times = np.linspace(0, 12, 400)

    def spectrum(omega):
        safe = np.where(omega == 0, 1.0, omega)
        first, last = (
            transfer.tube(omega, fourier * share, RESIDENCE * share, 40) if share else 1.0
            for share in WAYS[emptied]
        )
        loop_alone = np.where(omega == 0, 1.0, (first - last) / (1j * safe * 0.5))
        return loop_alone * transfer.tanks(omega, 0.2, 3)

    expected = transfer.back_to_time(spectrum, times, 120.0, 400)
    assert relative_l2(sample(band, times[None])[0], expected) < 3e-4


@pytest.mark.parametrize("emptied", WAYS)
@pytest.mark.parametrize("fourier", [0.02, 0.5, 5.0])
def test_mean_and_variance_are_those_of_the_closed_form(fourier, emptied):
    part, passing = loop(fourier, emptied)
    found, said = moments(bands_behind((part, passing))[0]), KINDS["loop"].theory(part, passing)
    assert found.area == pytest.approx(1, abs=1e-8)
    assert found.mean == pytest.approx(said.mean, rel=1e-4)
    assert found.variance == pytest.approx(said.variance, rel=1e-3)


def test_fast_diffusion_leaves_a_plug():
    part, passing = loop(400.0)
    said = KINDS["loop"].theory(part, passing)
    assert said.variance == pytest.approx(0.5**2 / 12, rel=0.05)
    assert said.mean == pytest.approx(0.25, rel=0.05)


def test_a_full_loop_knows_no_direction():
    one, two = (bands_behind(loop(0.2, emptied, 1.0))[0] for emptied in WAYS)
    assert two.values == pytest.approx(one.values, abs=1e-12)


SCENARIO = """
[method]
flow = "0.5 mL/min"
viscosity = "0.6 mPa*s"
[[solutes]]
name = "a"
retention_factor = 2.0
diffusivity = "1e-9 m^2/s"
[injection]
shape = "loop"
volume = "5 uL"
loop_bore = "0.25 mm"
loop_length = "400 mm"
"""
COLUMN = """
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "50 mm"
particle_diameter = "2.7 um"
plates = 8000
"""


def test_a_scenario_injects_through_a_loop():
    result = travel(Scenario.from_text(SCENARIO + COLUMN).itinerary())
    plug = SCENARIO.split("shape")[0] + 'shape = "plug"\nvolume = "5 uL"\n'
    plain = travel(Scenario.from_text(plug + COLUMN).itinerary())
    first = result.parts[0]
    assert first.injects
    assert first.variance_simulated == pytest.approx(first.variance_exact, rel=1e-3)
    assert first.variance_simulated > 1.5 * plain.parts[0].variance_simulated
    assert any(
        "emptied backwards" in one for one in Scenario.from_text(SCENARIO + COLUMN).assumptions()
    )


def test_a_loop_is_known_by_two_of_its_sizes():
    """0.25 mm and 400 mm hold 19.635 uL, by hand."""
    bore, length = 'loop_bore = "0.25 mm"\n', 'loop_length = "400 mm"\n'
    volume = 'loop_volume = "19.6349541 uL"\n'
    for old in (bore, length):
        text = SCENARIO.replace(old, volume) + COLUMN
        part = Scenario.from_text(text).itinerary().passages[0][0]
        assert float(part.bore) == pytest.approx(0.25e-3, rel=1e-6)
        assert float(part.length) == pytest.approx(0.4, rel=1e-6)


def test_the_sample_s_own_solvent_may_come_out_of_a_loop():
    """It is focused as a plug would be, but for what the loop itself spreads beyond its volume."""
    weak = SCENARIO.replace("factor = 2.0", "factor = 2.0\nsample_retention_factor = 20")
    loop, plain = (Scenario.from_text(one + COLUMN) for one in (weak, SCENARIO))
    assert any("leaves the loop as a plug" in one for one in loop.assumptions())
    focused, spread = (travel(one.itinerary()).parts[0] for one in (loop, plain))
    assert focused.variance_simulated == pytest.approx(spread.variance_simulated, rel=1e-3)
    assert focused.gradient_focusing > 0.5


def test_a_loop_of_unknown_length_is_filled():
    """5 uL of 0.25 mm bore are 101.86 mm, by hand."""
    short = Scenario.from_text(SCENARIO.replace('loop_length = "400 mm"\n', "") + COLUMN)
    part = short.itinerary().passages[0][0]
    assert float(part.length) == pytest.approx(0.10186, rel=1e-4)
    assert any("fills the loop, 102 mm" in one for one in short.assumptions())


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            'volume = "5 uL"',
            'volume = "50 uL"',
            "at most the 19.63 uL that the loop holds",
        ),
        ('loop_bore = "0.25 mm"\n', "", "loop_bore"),
        ('"400 mm"', '"400 mm"\nloop_volume = "19.6 uL"', "two of loop_bore"),
    ],
)
def test_what_cannot_be(old, new, said):
    with pytest.raises(ScenarioError) as caught:
        Scenario.from_text(SCENARIO.replace(old, new) + COLUMN)
    assert said in str(caught.value)
