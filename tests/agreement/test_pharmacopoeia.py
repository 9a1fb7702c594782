"""A Gaussian peak measured by every definition of the pharmacopoeias.

USP <621> and Ph. Eur. 2.2.46: N = 5.54 (t/W)^2 at half height, 16 (t/W)^2 by tangents, symmetry
factor W(0.05)/(2f); wording from memory, the constants follow from the Gaussian itself.
"""

import numpy as np
import pytest
from reference.outline import Outline

from tailrace.measures import measure
from tailrace.measures.shape import FIVE_SIGMA_LEVEL, HALF_HEIGHT
from tailrace.signals import Band

SIGMA, CENTRE = 2.0, 100.03
# fraction of the height: full width in sigma, 2 sqrt(2 ln(1/fraction))
WIDTHS = {
    0.5: 2.3548200,
    np.exp(-0.5): 2.0,
    0.1: 4.2919321,
    0.05: 4.8954937,
    0.134: 4.009903,
    np.exp(-3.125): 5.0,
}
DEFINITIONS = ("plates_half_height", "plates_tangent", "plates_five_sigma", "plates_moments")


@pytest.fixture(scope="module")
def band():
    times = CENTRE + np.arange(-12 * SIGMA, 12 * SIGMA, SIGMA / 20)
    values = np.exp(-(((times - CENTRE) / SIGMA) ** 2) / 2) / (SIGMA * np.sqrt(2 * np.pi))
    return Band(values[None], times[:1], np.array([SIGMA / 20]))


@pytest.mark.parametrize("fraction", WIDTHS)
def test_widths(band, fraction):
    assert Outline(band).width(fraction) / SIGMA == pytest.approx(WIDTHS[fraction], rel=2e-6)


@pytest.mark.parametrize("definition", DEFINITIONS)
def test_all_definitions_of_plates_agree_on_a_gaussian(band, definition):
    assert measure(band)[definition] == pytest.approx((CENTRE / SIGMA) ** 2, rel=1e-5)


def test_a_gaussian_is_symmetric(band):
    figures = measure(band)
    assert figures["tailing_5"] == pytest.approx(1.0, abs=1e-6)
    assert figures["asymmetry_10"] == pytest.approx(1.0, abs=1e-6)
    assert figures["skewness"] == pytest.approx(0.0, abs=1e-9)
    assert figures["apex"] == pytest.approx(CENTRE, rel=1e-9)
    assert figures["height"] == pytest.approx(1 / (SIGMA * np.sqrt(2 * np.pi)), rel=1e-6)


def test_constants():
    assert pytest.approx(5.5451774, abs=1e-7) == HALF_HEIGHT
    # the pharmacopoeias' 5.54 is lower by 0.093 %
    assert pytest.approx(1 - 0.000934, abs=1e-6) == 5.54 / HALF_HEIGHT
    assert pytest.approx(0.04393693, abs=1e-8) == FIVE_SIGMA_LEVEL


def test_a_triangle_by_hand():
    # apex at 3 s, front 1 s and tail 3 s wide: at half height 0.5 and 1.5 s, so W = 2 s
    times = np.arange(0.0, 9.0, 1e-3)
    values = np.interp(times, [2.0, 3.0, 6.0], [0.0, 1.0, 0.0]) / 2
    outline = Outline(Band(values[None], times[:1], np.array([1e-3])))
    assert outline.apex == pytest.approx(3.0, abs=1e-3)
    assert outline.width(0.5) == pytest.approx(2.0, abs=2e-3)
    assert outline.asymmetry(0.10) == pytest.approx(3.0, abs=5e-3)
    assert outline.tailing(0.05) == pytest.approx(2.0, abs=5e-3)
