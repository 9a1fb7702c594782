"""A tube that is bent, as a part: what it adds, its pressure, and what is refused."""

from dataclasses import replace

import numpy as np
import pytest

from tailrace.eluent.stream import Stream
from tailrace.measures import moments
from tailrace.parts import KINDS
from tailrace.parts.tube.part import Tube
from tailrace.signals import Band, Resolution

FLOW = 0.5e-6 / 60
STREAM = Stream(flow_rate=FLOW, diffusivity=np.array([1.2e-9]), viscosity=6.5e-4, density=1000.0)
TUBE = Tube(name="tube", bore=0.12e-3, length=0.4)
TUBES = KINDS["tube"]


def gaussian(lanes=1, sigma=0.05):
    step = sigma / 5
    times = step * np.arange(-30, 31)
    values = np.exp(-((times / sigma) ** 2) / 2)
    rows = np.tile(values / (values.sum() * step), (lanes, 1))
    return Band(rows, np.full(lanes, times[0]), np.full(lanes, step))


@pytest.mark.parametrize(
    ("radius", "volume_variance"),
    [(np.inf, 3.23), (0.3, 1.77), (0.1, 1.16), (0.05, 1.0), (0.025, 0.93)],
)
def test_a_bend_narrows_what_a_common_tube_adds(radius, volume_variance):
    added = TUBES.theory(replace(TUBE, bend_radius=radius), STREAM)
    assert added.variance[0] * FLOW**2 * 1e18 == pytest.approx(volume_variance, rel=0.015)


@pytest.mark.parametrize("solver", ["finite differences", "spectral"])
def test_both_solvers_add_what_the_closed_form_says(solver):
    bent = replace(TUBE, bend_radius=0.8)
    inlet = gaussian(sigma=0.1)
    band = TUBES.march(bent, STREAM, inlet, Resolution(solver=solver))
    added = moments(band).variance[0] - moments(inlet).variance[0]
    assert added == pytest.approx(TUBES.theory(bent, STREAM).variance[0], rel=2e-3)


def test_lanes_of_one_tube_are_as_on_their_own():
    radii = np.array([np.inf, 0.3])
    both = TUBES.march(replace(TUBE, bend_radius=radii), STREAM.over(2), gaussian(2), Resolution())
    for lane, radius in enumerate(radii):
        alone = TUBES.march(replace(TUBE, bend_radius=radius), STREAM, gaussian(), Resolution())
        one = both.lane(lane)
        assert one.start[0] == pytest.approx(alone.start[0], rel=1e-12)
        count = min(one.values.shape[1], alone.values.shape[1])
        assert one.values[0, :count] == pytest.approx(alone.values[0, :count], abs=1e-9)


def test_a_tube_of_one_bend_is_a_tube_of_two_halves_of_it():
    whole = replace(TUBE, bend_radius=0.3)
    halves = replace(TUBE, bends=((0.2, 0.3, False), (0.2, 0.3, False)))
    one, other = (TUBES.theory(tube, STREAM).variance[0] for tube in (whole, halves))
    assert other == pytest.approx(one, rel=3e-4)
    assert halves.pressure_drop(STREAM) == pytest.approx(whole.pressure_drop(STREAM), rel=1e-12)


def test_straight_stretches_are_the_straight_tube():
    parted = replace(TUBE, bends=((0.1, np.inf, False), (0.3, np.inf, True)))
    assert parted.manner == ""
    assert TUBES.theory(parted, STREAM).variance == TUBES.theory(TUBE, STREAM).variance


def test_a_bend_costs_pressure_by_its_dean_number():
    fast = replace(STREAM, flow_rate=10 * FLOW)
    tube = replace(TUBE, bend_radius=0.02)
    dean = float(tube.dean_number(fast, 0.02))
    assert 200 > dean > 50
    ito = 21.5 * dean / (1.56 + np.log10(dean)) ** 5.73
    assert tube.pressure_drop(fast) / TUBE.pressure_drop(fast) == pytest.approx(ito, rel=0.02)
    assert tube.refused(fast) is None


def test_flows_that_are_not_known_are_refused():
    tube = replace(TUBE, bend_radius=2e-3)
    key, sentence = tube.refused(replace(STREAM, flow_rate=30 * FLOW))
    assert key == "bend_radius" and "Dean number" in sentence
    key, sentence = tube.refused(replace(STREAM, viscosity=np.nan))
    assert "viscosity" in sentence
    assert TUBE.refused(replace(STREAM, viscosity=np.nan)) is None


def test_a_bend_tighter_than_the_bore_is_refused():
    key, sentence = replace(TUBE, bore=2e-3, bend_radius=1.5e-3).refused(STREAM)
    assert key == "bend_radius"
    assert "bore of 2 mm, found a radius of 1.5 mm" in sentence


def test_a_tight_bend_is_cautioned_against():
    assert any("bores" in line for line in replace(TUBE, bend_radius=5e-4).cautions(STREAM))
    assert not any("bores" in line for line in replace(TUBE, bend_radius=0.05).cautions(STREAM))


def test_a_straight_tube_knows_what_a_bend_would_change():
    change = TUBE.variance_if_bent(0.05, STREAM)
    bent = replace(TUBE, bend_radius=0.05)
    exact = TUBES.theory(bent, STREAM).variance - TUBES.theory(TUBE, STREAM).variance
    assert change == pytest.approx(exact, rel=0.02)
    assert bent.variance_if_bent(0.05, STREAM) is None
