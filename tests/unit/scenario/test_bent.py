"""``bend_radius`` and ``bends``: what is read, what is refused, and what a run says of them."""

import numpy as np
import pytest

import tailrace
from tailrace.errors import ScenarioError
from tailrace.scenario.assumptions import straightness_remark
from tailrace.scenario.scenario import Scenario

TEXT = """\
[method]
flow = "0.5 mL/min"
viscosity = "0.65 mPa*s"
{method}
[[solutes]]
name = "marker"
diffusivity = "1.2e-9 m^2/s"
[injection]
shape = "gaussian"
sigma = "0.1 s"
[[path]]
name = "tube"
part = "tube"
bore = "0.12 mm"
length = "400 mm"
{tube}
"""


def loaded(tube="", method=""):
    return Scenario.from_text(TEXT.format(tube=tube, method=method))


def tube_of(scenario):
    return scenario.itinerary().passages[1][0]


def test_a_tube_lies_as_it_says_or_else_as_the_method_says():
    assert np.isinf(tube_of(loaded()).bend_radius)
    assert tube_of(loaded('bend_radius = "40 mm"')).bend_radius == pytest.approx(0.04)
    assert tube_of(loaded(method='bend_radius = "60 mm"')).bend_radius == pytest.approx(0.06)
    straight = loaded('bend_radius = "straight"', 'bend_radius = "60 mm"')
    assert np.isinf(tube_of(straight).bend_radius)


def test_a_word_in_place_of_a_radius_is_told_which_word_there_is():
    with pytest.raises(ScenarioError, match=r'"40 mm", or "straight", found "coiled"'):
        loaded('bend_radius = "coiled"')


def test_a_key_that_no_stretch_has_is_told():
    """A misspelt one, and one that a part has."""
    for key in ("turned = true", 'bore = "1 mm"'):
        row = f'bends = [{{ length = "400 mm", radius = "15 mm", {key} }}]'
        with pytest.raises(ScenarioError, match=r"expected a known key, found \"(turned|bore)\""):
            loaded(row)


def test_bends_are_stretches_of_the_tube():
    part = tube_of(
        loaded(
            'bends = [{ length = "60 mm", radius = "15 mm" }, '
            '{ length = "340 mm", radius = "straight", turn = "back" }]'
        )
    )
    (share, radius, turned), (rest, straight, back) = part.stretches
    assert (share, rest) == pytest.approx((0.15, 0.85))
    assert (radius, turned, back) == (pytest.approx(0.015), False, True)
    assert np.isinf(straight)


@pytest.mark.parametrize(
    ("tube", "key"),
    [
        ('bends = [{ length = "60 mm", radius = "15 mm" }]', "make up the length"),
        (
            'bend_radius = "15 mm"\nbends = [{ length = "400 mm", radius = "15 mm" }]',
            "either bend_radius or bends",
        ),
        ('bend_radius = "curled"', "bend radius"),
        ("bend_radius = 40", "bend radius"),
    ],
)
def test_what_does_not_go_together_is_refused(tube, key):
    with pytest.raises(ScenarioError, match=key):
        loaded(tube)


def test_a_flow_that_is_not_known_is_refused():
    text = TEXT.format(tube='bend_radius = "1 mm"', method="").replace("0.5 mL/min", "20 mL/min")
    with pytest.raises(ScenarioError, match="Dean number"):
        Scenario.from_text(text)


def test_a_change_coils_a_tube():
    change = """\
[[changes]]
name = "coil"
effort = "1 min"
set = { tube = { bend_radius = "50 mm" } }
"""
    scenario = Scenario.from_text(TEXT.format(tube="", method="") + change)
    assert tube_of(scenario.with_changes("coil")).bend_radius == pytest.approx(0.05)


def test_a_run_says_what_a_straight_tube_would_do_bent():
    scenario = loaded()
    straight = tailrace.run(scenario)
    bent = tailrace.run(loaded('bend_radius = "50 mm"'))
    remark = straightness_remark(scenario, straight)
    percent = float(remark.split("about ")[1].split(" %")[0])
    gain = bent.recorded["plates_moments"] / straight.recorded["plates_moments"] - 1
    assert percent == pytest.approx(100 * gain[0], rel=0.1)
    for text in (loaded('bend_radius = "straight"'), loaded(method='bend_radius = "straight"')):
        assert straightness_remark(text, straight) is None


JOINED = """
[[path]]
name = "next"
part = "tube"
bore = "0.25 mm"
length = "20 mm"
inlet = "carried over"
"""


def test_a_tube_takes_over_the_profile_of_the_one_before():
    path = [part for part, _ in loaded(JOINED).itinerary().passages]
    assert path[1].hands_on and path[2].carries_over
    assert "without mixing" in " ".join(path[2].assumptions(()))


@pytest.mark.parametrize(
    ("tube", "found"),
    [
        ('inlet = "carried over"', "the injection"),
        (
            '[[path]]\nname = "mixer"\npart = "chamber"\nvolume = "1 uL"' + JOINED,
            '"mixer", a chamber',
        ),
    ],
)
def test_a_profile_is_carried_over_from_a_tube_only(tube, found):
    with pytest.raises(ScenarioError, match="expected a tube right before it") as refused:
        loaded(tube)
    assert found in str(refused.value)
