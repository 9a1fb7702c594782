"""Many lanes side by side are as many journeys; their order is of no account."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference import paths
from reference.journeys import FLOW, relative_l2

from tailrace.eluent.stream import Stream
from tailrace.journey.propagation import pass_through
from tailrace.measures import moments
from tailrace.parts.cell.part import Cell
from tailrace.parts.column.part import Column
from tailrace.parts.detector.part import Detector
from tailrace.parts.injector.part import Injector
from tailrace.parts.tube.part import Tube
from tailrace.signals import Resolution
from tailrace.signals.cubic import sample

DIFFUSIVITIES = st.lists(paths.numbers(0.2, 20.0), min_size=2, max_size=5, unique=True)


def journey(diffusivities, interval=float("nan")):
    """Bands behind tube, column, cell and detector; one lane a diffusivity (1e-9 m^2/s)."""
    lanes = len(diffusivities)
    diffusivity = 1e-9 * np.asarray(diffusivities)
    passing = Stream(flow_rate=FLOW, diffusivity=diffusivity, retention_factor=diffusivity * 1e9)
    parts = [
        Injector(shape="plug", volume=0.1 * FLOW),
        Tube(name="tube", bore=0.17e-3, length=0.3),
        Column(name="column", bore=2e-3, length=1e-3, particle_diameter=3e-6, plates=200.0),
        Cell(name="cell", volume=0.3 * FLOW, tanks=2.0),
        Detector(time_constant=0.1, interval=interval),
    ]
    return pass_through([(part, passing.over(lanes)) for part in parts], Resolution())[0]


@settings(max_examples=4)
@given(DIFFUSIVITIES, st.randoms(use_true_random=False))
def test_the_order_of_lanes_is_of_no_account(diffusivities, random):
    order = list(range(len(diffusivities)))
    random.shuffle(order)
    straight = journey(diffusivities)[-1]
    mixed = journey([diffusivities[i] for i in order])[-1]
    for place, lane in enumerate(order):
        one, other = straight.lane(lane), mixed.lane(place)
        assert np.array_equal(one.values, other.values)
        assert np.array_equal(one.start, other.start)
        assert np.array_equal(one.step, other.step)


@settings(max_examples=6)
@given(DIFFUSIVITIES)
def test_lanes_side_by_side_are_journeys_alone(diffusivities):
    # rings and stations are chosen for the lane that needs most: equal within the accuracy only
    together = journey(diffusivities)[-1]
    for lane, diffusivity in enumerate(diffusivities):
        alone, beside = journey([diffusivity])[-1], together.lane(lane)
        times = alone.times
        assert relative_l2(sample(beside, times), alone.values) < 3e-4
        assert moments(beside).mean == pytest.approx(moments(alone).mean, rel=1e-8)
        assert moments(beside).variance == pytest.approx(moments(alone).variance, rel=3e-4)


def test_more_lanes_than_a_block_holds():
    # 19 equal lanes: three blocks, the last one not full
    band = journey([1.0] * 19)[-1]
    for lane in range(1, 19):
        assert np.array_equal(band.values[lane], band.values[0])
    alone = journey([1.0])[-1].values[0]
    count = min(alone.size, band.values.shape[1])
    assert relative_l2(band.values[0, :count], alone[:count]) < 1e-12


def test_lanes_may_need_very_different_times():
    # Fourier numbers 0.02 and 200 in one block: one lane is empty long before the other
    band = journey([0.2, 200.0])[1]
    assert band.area == pytest.approx(1.0, abs=1e-9)
