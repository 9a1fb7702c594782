"""Several peaks on one trace: their sum, their valleys, their resolution."""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar
from scipy.stats import norm

from tailrace.measures import measure
from tailrace.measures.chromatogram import (
    LEAST_VALLEY,
    gaussian_valley,
    half_height_resolution,
    overlaid,
    resolution_from_valley,
    valley_to_peak,
)
from tailrace.signals import Band

# Two equal Gaussians: resolution and valley over peak, from two independent computations outside
# the project, printed to six digits.
VALLEYS = [(0.8, 0.552665), (1.0, 0.270580), (1.25, 0.087874), (1.5, 0.022218)]


def gaussians(centres, widths, steps=0.02):
    """One lane for each peak, eight widths to either side."""
    centres, widths, steps = np.broadcast_arrays(centres, widths, np.asarray(steps, float))
    start = centres - 8 * widths
    count = int(np.max(16 * widths / steps)) + 1
    times = start[:, None] + steps[:, None] * np.arange(count)
    return Band(norm.pdf(times, centres[:, None], widths[:, None]), start, steps.copy())


@pytest.mark.parametrize(("resolution", "valley"), VALLEYS)
def test_the_valley_of_two_equal_gaussians(resolution, valley):
    apexes = np.array([50.0, 50.0 + 4 * resolution])
    trace = overlaid(gaussians(apexes, 1.0), [1, 1])
    assert valley_to_peak(trace, apexes) == pytest.approx([valley], abs=6e-7)
    assert gaussian_valley(4 * resolution) == pytest.approx(valley, abs=6e-7)
    assert resolution_from_valley(valley) == pytest.approx(resolution, abs=2e-6)


@pytest.mark.parametrize(("resolution", "_"), VALLEYS)
def test_half_height_resolution_of_gaussians_is_that_of_their_tangents(resolution, _):
    # The tangent form 2 (t2 - t1)/(Wb1 + Wb2) with Wb = 4 sigma (USP <621>; from memory).
    apexes, widths = np.array([50.0, 50.0 + 6 * resolution]), np.array([1.0, 2.0])
    found = measure(gaussians(apexes, widths))
    assert half_height_resolution(found["apex"], found["width_half"]) == pytest.approx(
        [2 * np.diff(apexes)[0] / (4 * widths.sum())], rel=1e-6
    )


def test_the_valley_is_taken_over_the_smaller_peak():
    def height(time):
        return 3 * norm.pdf(time, 10) + norm.pdf(time, 14.5)

    found = valley_to_peak(overlaid(gaussians([10.0, 14.5], 1.0), [3, 1]), [10.0, 14.5])
    low = minimize_scalar(height, bounds=(11, 14), options={"xatol": 1e-9}).fun
    top = minimize_scalar(lambda t: -height(t), bounds=(14, 15), options={"xatol": 1e-9}).fun
    assert found == pytest.approx([low / -top], rel=1e-6)


def test_peaks_that_have_run_into_one_have_no_valley():
    # The sum of two equal Gaussians has one maximum up to a distance of two sigma
    # (Behboodian, Technometrics 12 (1970) 131; from memory).
    for distance, apart in ((1.9, False), (2.1, True)):
        apexes = [10.0, 10.0 + distance]
        found = valley_to_peak(overlaid(gaussians(apexes, 1.0), [1, 1]), apexes)
        assert np.isfinite(found[0]) == apart


def test_a_peak_that_a_neighbour_swallows():
    apexes = [10.0, 11.5, 20.0]
    found = valley_to_peak(overlaid(gaussians(apexes, 1.0), [1, 0.01, 1]), apexes)
    assert np.isnan(found[0])
    assert found[1] < 1e-3


@pytest.mark.parametrize("ratio", [float("nan"), 0.0, LEAST_VALLEY / 2, 1.0, 1.2])
def test_no_resolution_from_no_valley(ratio):
    assert np.isnan(resolution_from_valley(ratio))


def test_lanes_on_different_grids_add_up():
    centres, widths, weights = [30.0, 33.0, 80.0], [1.0, 1.5, 4.0], [1.0, 2.0, 0.5]
    trace = overlaid(gaussians(centres, widths, [0.02, 0.05, 0.16]), weights)
    assert trace.step == pytest.approx([0.02])
    assert trace.area == pytest.approx([sum(weights)], rel=1e-9)
    times = trace.times[0]
    expected = sum(w * norm.pdf(times, c, s) for c, s, w in zip(centres, widths, weights, strict=1))
    # A four-point cubic is off by 3/128 h^4 f'''' at most (from memory): 2e-7 of a Gaussian's
    # height at 25 steps a width; the second lane has 30, the third 25.
    assert trace.values[0] == pytest.approx(expected, abs=4e-7)


def test_recorded_points_stay_as_they_are():
    values = np.array([[0.0, 1, 5, 2, 0], [3.0, 4, 1, 0, 0]])
    band = Band(values, np.array([10.0, 10.2]), np.array([0.1, 0.1]))
    trace = overlaid(band, [1, 10])
    assert trace.start == pytest.approx([10.0])
    assert trace.values[0] == pytest.approx([0, 1, 35, 42, 10, 0, 0], abs=1e-9)
