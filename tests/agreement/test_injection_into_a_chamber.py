"""A Gaussian injection through one mixed volume is the exponentially modified Gaussian.

Truth is scipy.stats.exponnorm (K = tau / sigma). Its shape figures are read off by root finding on
its density, and these in turn are held against rounded digits computed beforehand.
"""

import numpy as np
import pytest
from reference.journeys import FLOW, bands_behind, gaussian, itinerary, relative_l2, stream
from scipy.optimize import brentq, minimize_scalar
from scipy.stats import exponnorm

from tailrace.journey import travel
from tailrace.measures import measure
from tailrace.parts.cell.part import Cell
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.injector.part import Injector

# tau / sigma: mode, height, W50, W10, W05, b/a at 10 %, W05 / 2f, all for sigma = 1
SHAPE = {
    0.5: (0.4281423, 0.3640036, 2.5588638, 4.7369715, 5.4465079, 1.092879, 1.057187),
    1.0: (0.6973692, 0.3128284, 2.8908904, 5.6632677, 6.6795549, 1.362180, 1.228212),
    2.0: (1.0179127, 0.2376368, 3.5864647, 7.9154640, 9.6339720, 2.055600, 1.648134),
    3.0: (1.2153838, 0.1906116, 4.3002901, 10.2601740, 12.6776914, 2.766003, 2.069830),
}


def shape_by_scipy(ratio):
    peak = exponnorm(ratio)
    mode = minimize_scalar(
        lambda t: -peak.pdf(t), bounds=(-1, 3), method="bounded", options={"xatol": 1e-10}
    ).x

    def flanks(fraction):
        level = fraction * peak.pdf(mode)
        edges = ((-9, mode), (mode, 40 * (1 + ratio)))
        return [brentq(lambda t: peak.pdf(t) - level, *edge, xtol=1e-12) for edge in edges]

    (a50, b50), (a10, b10), (a05, b05) = (flanks(f) for f in (0.5, 0.1, 0.05))
    widths = (b50 - a50, b10 - a10, b05 - a05)
    asymmetry = (b10 - mode) / (mode - a10)
    return (mode, peak.pdf(mode), *widths, asymmetry, (b05 - a05) / (2 * (mode - a05)))


@pytest.fixture(scope="module", params=SHAPE)
def peak(request):
    """Ratio tau / sigma and the band behind the chamber, sigma = 1 s."""
    ratio = request.param
    chamber = Chamber(name="chamber", volume=ratio * FLOW)
    passing = stream()
    return ratio, bands_behind((gaussian(1.0), passing), (chamber, passing))[-1]


@pytest.mark.parametrize("ratio", SHAPE)
def test_the_table_is_scipys(ratio):
    assert shape_by_scipy(ratio) == pytest.approx(SHAPE[ratio], rel=2e-6)


def test_curve(peak):
    ratio, band = peak
    assert relative_l2(band.values[0], exponnorm(ratio).pdf(band.times[0])) < 1e-4


def test_shape(peak):
    ratio, band = peak
    mode, height, half, _, _, asymmetry, tailing = shape_by_scipy(ratio)
    figures = measure(band)
    assert figures["apex"] == pytest.approx(mode, abs=1e-4)
    assert figures["height"] == pytest.approx(height, rel=1e-4)
    assert figures["width_half"] == pytest.approx(half, rel=1e-4)
    assert figures["asymmetry_10"] == pytest.approx(asymmetry, rel=3e-4)
    assert figures["tailing_5"] == pytest.approx(tailing, rel=3e-4)


def test_moments(peak):
    ratio, band = peak
    mean, variance, skewness = exponnorm(ratio).stats("mvs")
    figures = measure(band)
    assert figures["mean"] == pytest.approx(mean, rel=1e-7)
    assert figures["variance"] == pytest.approx(variance, rel=1e-7)
    assert figures["skewness"] == pytest.approx(float(skewness), rel=1e-6)
    assert variance == pytest.approx(1 + ratio**2, rel=1e-12)
    assert float(skewness) == pytest.approx(2 * ratio**3 / np.power(1 + ratio**2, 1.5), rel=1e-9)


@pytest.mark.parametrize(("injected", "volume"), [(10e-9, 10e-9), (2e-9, 13e-9), (20e-9, 5e-9)])
def test_a_plug_straight_into_a_cell_keeps_its_corner_within_the_estimate(injected, volume):
    # By hand: the peak rises as 1 - exp(-t/c) until the plug ends and then falls as exp(-t/c), so
    # with h its height at the corner the half width is a + c ln 2 + c ln(1 - h/2)
    plug_time, held = injected / FLOW, volume / FLOW
    height = 1 - np.exp(-plug_time / held)
    exact = plug_time + held * np.log(2) + held * np.log(1 - height / 2)
    parts = Injector(shape="plug", volume=injected), Cell(name="cell", volume=volume)
    result = travel(itinerary(*parts))
    found = result.recorded["width_half"][0]
    assert found == pytest.approx(exact, rel=2e-3)
    assert abs(found - exact) < result.numerical_error["width_half"][0]
