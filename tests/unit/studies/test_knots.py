"""Few points with straight lines between them stand for a curve."""

import numpy as np
import pytest

from tailrace.signals.band import Band
from tailrace.studies.sliders import TOLERANCE, knots


def gaussian(step, width=1.0):
    times = np.arange(-8 * width, 8 * width, step)
    heights = np.exp(-(times**2) / (2 * width**2))
    return Band(heights[None], times[:1], np.array([step]))


def plain(points):
    """Points against their own straight lines: what is drawn, at the samples of a band."""
    return lambda times: np.interp(times, points.times, points.heights, 0.0, 0.0)


@pytest.mark.parametrize("step", [0.01, 0.1, 0.5])
def test_a_gaussian_is_met_everywhere_and_not_at_the_samples_alone(step):
    points = knots(gaussian(step), 0)
    times = np.linspace(-6, 6, 5001)
    exact = np.exp(-(times**2) / 2)
    # At half a width a step the cubic that joins the samples is itself this far from a Gaussian.
    cubic = 0.02343 * 3 * step**4
    assert np.abs(plain(points)(times) - exact).max() <= 1e-3 + cubic
    # The best broken line of a Gaussian needs about 40 pieces for this tolerance; twice will do.
    assert points.times.size < 90


def test_recorded_points_are_joined_as_they_are():
    rough = gaussian(0.8)
    points = knots(rough, 0, recorded=True)
    assert set(np.round(points.times, 9)) <= set(np.round(rough.times[0], 9))
    inside = rough.values[0] > TOLERANCE
    drawn = plain(points)(rough.times[0][inside])
    assert np.abs(drawn - rough.values[0][inside]).max() <= TOLERANCE * rough.values.max()


def test_both_ends_are_zero_and_times_are_on_the_grid():
    points = knots(gaussian(0.1), 0)
    assert points.heights[0] == points.heights[-1] == 0.0
    assert points.places[0] == 0
    assert np.all(np.diff(points.places) > 0)


def test_a_lane_is_taken_by_its_number():
    one, two = gaussian(0.1), gaussian(0.1, width=0.5)
    values = np.zeros((2, one.values.shape[1]))
    values[0], values[1, : two.values.shape[1]] = one.values[0], two.values[0]
    both = Band(values, np.concatenate([one.start, two.start]), np.array([0.1, 0.1]))
    np.testing.assert_array_equal(knots(both, 1).heights, knots(two, 0).heights)


def test_a_signal_that_is_nowhere_positive_has_none():
    flat = Band(np.zeros((1, 9)), np.zeros(1), np.ones(1))
    assert knots(flat, 0) is None
