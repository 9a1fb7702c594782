"""Mixed volumes against the gamma distribution of scipy.stats and a textbook's tanks in series."""

import numpy as np
import pytest
from reference.journeys import FLOW, bands_behind, gaussian, relative_l2, stream
from scipy.stats import gamma, norm

from tailrace.measures import measure, moments
from tailrace.parts.cell.part import Cell
from tailrace.parts.cell.theory import theory
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.fitting.part import Fitting

NARROW = 0.005
"""Width of the injection against the residence: adds 2.5e-5 of the square of the residence."""
# Levenspiel, Chemical Reaction Engineering, 3rd ed., ch. 14: E_max tau = N (N-1)^(N-1) e^(1-N) /
# (N-1)!, at t = tau (N-1)/N (from memory; the digits are the formula's)
HEIGHTS = {2: 2 / np.e, 5: 0.9768341, 10: 1.317556, 50: 2.844746}


def behind(part, sigma=NARROW):
    passing = stream()
    return bands_behind((gaussian(sigma), passing), (part, passing))[-1]


@pytest.mark.parametrize("tanks", HEIGHTS)
def test_greatest_height_of_tanks_in_series(tanks):
    figures = measure(behind(Chamber(name="chamber", volume=FLOW, tanks=tanks)))
    # a narrow injection lowers the apex by sigma^2/2 times the curvature there, N^2/(N-1)
    lowered = HEIGHTS[tanks] * (1 - NARROW**2 / 2 * tanks**2 / (tanks - 1))
    assert figures["height"] == pytest.approx(lowered, rel=1e-4)
    assert figures["apex"] == pytest.approx((tanks - 1) / tanks, abs=2e-4)


@pytest.mark.parametrize("tanks", [1.5, 2.0, 2.5, 3.7, 12.25])
def test_curve_is_the_gamma_density_for_any_number_of_tanks(tanks):
    sigma = 0.05
    band = behind(Chamber(name="chamber", volume=FLOW, tanks=tanks), sigma)
    grid = np.linspace(-8, 8, 1001) * sigma
    weight = norm.pdf(grid, scale=sigma)
    weight /= weight.sum()
    # the same sum with the distribution function: exact for the mean over each small interval
    half = (grid[1] - grid[0]) / 2
    late = band.times[0][:, None] - grid
    law = gamma(tanks, scale=1 / tanks)
    expected = ((law.cdf(late + half) - law.cdf(late - half)) / (2 * half)) @ weight
    assert relative_l2(band.values[0], expected) < 1e-4


@pytest.mark.parametrize("tanks", [1.0, 1.3, 2.0, 2.5, 7.0])
def test_moments_are_those_of_the_gamma_density(tanks):
    found = moments(behind(Cell(name="cell", volume=FLOW, tanks=tanks)))
    mean, variance, skewness = gamma.stats(tanks, scale=1 / tanks, moments="mvs")
    assert found.area == pytest.approx(1.0, abs=1e-10)
    assert found.mean == pytest.approx(mean, rel=1e-8)
    assert found.variance == pytest.approx(variance + NARROW**2, rel=1e-7)
    assert found.third == pytest.approx(skewness * variance**1.5, rel=1e-6)


@pytest.mark.parametrize("tanks", [1, 2, 5])
def test_a_cell_read_as_the_mean_over_its_tanks(tanks):
    sigma = 0.08
    cell = Cell(name="cell", volume=FLOW, tanks=tanks, read="mean")
    band = behind(cell, sigma)
    grid = np.linspace(-8, 8, 1001) * sigma
    weight = norm.pdf(grid, scale=sigma)
    weight /= weight.sum()
    late = band.times[0][:, None] - grid
    half = (grid[1] - grid[0]) / 2
    laws = [gamma(order, scale=1 / tanks) for order in range(1, tanks + 1)]
    steps = [(law.cdf(late + half) - law.cdf(late - half)) @ weight for law in laws]
    assert relative_l2(band.values[0], np.mean(steps, axis=0) / (2 * half)) < 1e-4


def test_the_mean_over_many_tanks_is_sternbergs_plug():
    # Sternberg, Adv. Chromatogr. 2 (1966) 205 (from memory): cell averaging adds V^2/12
    tanks = 1000.0
    text = theory(Cell(name="cell", volume=FLOW, tanks=tanks, read="mean"), stream())
    # (1 + 1/n)(1 + 5/n)/12 and (1 + 1/n)/2 by summing the moments of the gamma densities
    assert text.variance == pytest.approx((1 + 6 / tanks) / 12, rel=1e-5)
    assert text.mean == pytest.approx(1 / 2, rel=2 / tanks)


def test_a_joint_is_one_stirred_volume():
    bore = np.sqrt(4 * 0.5 * FLOW / (np.pi * 1e-3))
    found = moments(behind(Fitting(name="joint", gap_bore=bore, gap_length=1e-3)))
    assert found.mean == pytest.approx(0.5, rel=1e-8)
    assert found.variance - NARROW**2 == pytest.approx(0.25, rel=1e-7)
