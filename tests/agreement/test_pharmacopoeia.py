"""A Gaussian peak measured by every definition of the pharmacopoeias.

USP <621> and Ph. Eur. 2.2.46: N = 5.54 (t/W)^2 at half height, 16 (t/W)^2 by tangents, symmetry
factor W(0.05)/(2f); wording from memory, the constants follow from the Gaussian itself.
"""

import numpy as np
import pytest
from reference.outline import Outline

from tailrace.journey.discretisation import of_pairs
from tailrace.measures import Setting, measure
from tailrace.measures.chromatogram import peak_to_valley, valley_to_peak
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


def test_as_data_systems_print_it(band):
    setting = Setting(hold_up=np.array([20.0]), particles_long=np.array([50_000.0]))
    figures = measure(band, setting)
    plates = (CENTRE / SIGMA) ** 2
    assert figures["plates_printed"] == pytest.approx(plates * 5.54 / (8 * np.log(2)), rel=1e-5)
    assert figures["retention_factor_recorded"] == pytest.approx((CENTRE - 20) / 20, rel=1e-9)
    # from the plates that stand beside it, as anybody computes it again: L / (N dp)
    assert figures["reduced_plate_height"] == pytest.approx(
        50_000 / figures["plates_printed"], rel=1e-12
    )


@pytest.mark.parametrize("bare", [Setting(), Setting(hold_up=np.array([20.0]))])
def test_what_needs_a_column_is_left_out_without(band, bare):
    assert "reduced_plate_height" not in measure(band, bare)


def test_neighbours_as_data_systems_print_them():
    # t = 100 and 110 s with widths of 4 and 5 s, hold-up 20 s, by hand
    recorded = {
        "apex": np.array([110.0, 100.0]),
        "width_half": np.array([5.0, 4.0]),
        "retention_factor_recorded": np.array([4.5, 4.0]),
    }
    errors = {name: np.full(2, 0.01) for name in recorded}
    by_hand = {
        "half_height_printed": (1.18 * 10 / 9, 1.18 * 0.02 / 9 * (1 + 10 / 9)),
        "relative_retention": (1.1, 0.01 / 100 + 1.1 * 0.01 / 100),
        "selectivity": (1.125, 0.01 / 4 + 1.125 * 0.01 / 4),
    }
    for name, (value, error) in by_hand.items():
        found = of_pairs(name, recorded, errors, np.array([1, 0]))
        assert found[0] == pytest.approx(value, rel=1e-12)
        assert found[1] == pytest.approx(error, rel=0.005)


@pytest.mark.parametrize(
    ("resolution", "ratio"), [(0.8, 1.80942), (1.0, 3.69577), (1.25, 11.37999)]
)
def test_peak_to_valley_of_two_equal_gaussians(resolution, ratio):
    # in closed form: two Gaussians 4 Rs standard deviations apart
    apart = 4 * resolution * SIGMA
    times = CENTRE + np.arange(-12 * SIGMA, 24 * SIGMA, SIGMA / 20)
    values = sum(np.exp(-(((times - at) / SIGMA) ** 2) / 2) for at in (CENTRE, CENTRE + apart))
    trace = Band(values[None], times[:1], np.array([SIGMA / 20]))
    found = peak_to_valley(valley_to_peak(trace, [CENTRE, CENTRE + apart]))
    assert found == pytest.approx(ratio, rel=1e-5)


def test_tangents_touch_the_steepest_places_though_the_top_is_rippled(band):
    # A ripple bends the top back and forth; it is nowhere as steep as the flanks.
    offset = (band.times - CENTRE) / SIGMA
    ripple = 1 + 6e-3 * np.sin(20 * offset) * np.exp(-((offset / 0.4) ** 2))
    rippled = Band(band.values * ripple, band.start, band.step)
    expected = measure(band)["plates_tangent"]
    assert measure(rippled)["plates_tangent"] == pytest.approx(expected, rel=5e-3)
