"""``Band``, ``Cumulants`` and ``Resolution`` on their own."""

import numpy as np
import pytest

from tailrace.signals import Band, Cumulants, Resolution, cubic
from tailrace.signals.cubic import CUBIC, neighbour_weights, sample
from tailrace.signals.resolution import SOLVERS


def two_lanes():
    values = np.array([[1.0, 2.0, 1.0, 0.0], [0.0, 3.0, 3.0, 3.0]])
    return Band(values, np.array([0.0, 5.0]), np.array([0.5, 0.1]))


def test_times_and_areas_are_by_lane():
    band = two_lanes()
    assert band.lanes == 2
    assert band.times[0] == pytest.approx([0.0, 0.5, 1.0, 1.5])
    assert band.times[1] == pytest.approx([5.0, 5.1, 5.2, 5.3])
    assert band.area == pytest.approx([2.0, 0.9])


def test_a_lane_alone_loses_the_zeros_at_its_end_and_is_a_copy():
    band = two_lanes()
    alone = band.lane(0)
    assert alone.values.tolist() == [[1.0, 2.0, 1.0]]
    assert band.lane(1).values.tolist() == [[0.0, 3.0, 3.0, 3.0]]
    assert band.lane(1).start == [5.0]
    alone.values[0, 0] = 9.0
    assert band.values[0, 0] == 1.0


def test_a_lane_of_zeros_is_still_a_band():
    empty = Band(np.zeros((1, 5)), np.zeros(1), np.ones(1)).lane(0)
    assert empty.values.shape == (1, 1)


def test_skewness_is_not_a_number_where_nothing_is_added():
    added = Cumulants(
        mean=np.zeros(2),
        gaussian_variance=np.array([0.0, 4.0]),
        variance=np.array([0.0, 4.0]),
        third=np.array([0.0, 16.0]),
    )
    assert np.isnan(added.skewness[0])
    assert added.skewness[1] == pytest.approx(2.0)


def test_weights_are_lagranges():
    # at an offset of 1/2 the four-point cubic weighs -1, 9, 9, -1 sixteenths
    assert neighbour_weights(np.array(0.5)) * 16 == pytest.approx([-1, 9, 9, -1])
    assert neighbour_weights(np.array(0.0)) == pytest.approx([0, 1, 0, 0])
    assert CUBIC.sum(axis=1) == pytest.approx([1, 0, 0, 0], abs=1e-15)


def test_many_points_are_read_in_slices(monkeypatch):
    times = np.array([np.linspace(-1.0, 3.0, 37), np.linspace(4.9, 5.6, 37)])
    whole = sample(two_lanes(), times)
    monkeypatch.setattr(cubic, "AT_ONCE", 20)  # ten of each lane: three slices and a rest
    assert sample(two_lanes(), times) == pytest.approx(whole, rel=1e-14, abs=1e-300)


def test_coarser_is_half_as_fine_and_nothing_else():
    fine = Resolution(refinement=3.0, truncation=1e-9, solver=SOLVERS[1])
    assert fine.coarser() == Resolution(refinement=1.5, truncation=1e-9, solver=SOLVERS[1])


def test_accuracy_asked_for():
    # fourth order: sixteen times as accurate is twice as fine
    assert Resolution.for_accuracy(1e-3).refinement == pytest.approx(1.0)
    assert Resolution.for_accuracy(1e-3 / 16).refinement == pytest.approx(2.0)
