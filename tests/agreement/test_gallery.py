"""What the gallery draws of tubes and joints, against the frequency domain and closed forms."""

from functools import cache

import numpy as np
import pytest
from reference import transfer
from reference.exhibits import exhibit_of

from tailrace.measures import measure
from tailrace.signals.band import Band
from tailrace.studies.gallery import compute
from tailrace.studies.gallery.tubes import BORE, BRIEF, DIFFUSIVITY, FLOW, LENGTH, SIGMA


@pytest.fixture(scope="module")
def numbers():
    """One row a simulated point of the figure over the Fourier number."""
    shown = compute("fourier-number")
    assert shown.largest_error < 2e-3  # at all of its points
    there = np.isfinite(shown.column("plates_ratio"))
    return {name: one.values[there] for name, one in shown.table.items()}


@cache
def reference_band(fourier):
    """What leaves after a Gaussian of BRIEF, residence time one, by the transfer function."""
    highest, period = 1000.0, 8.0

    def whole(omega):
        signal = transfer.tube(omega, fourier, 1.0, modes=40) * transfer.gaussian(omega, BRIEF)
        assert abs(signal[-1]) < 1e-6
        return signal

    step = BRIEF / 4
    times = np.arange(0.3, 7.0, step)
    count = int(highest * period / (2 * np.pi))
    values = transfer.back_to_time(whole, times, highest, count)
    return Band(values[None], times[:1], np.array([step]))


def test_points_lie_on_the_exact_curves(numbers):
    # The columns of closed form are held against published eigenvalues in test_tube_exact.py.
    np.testing.assert_allclose(numbers["variance_simulated"], numbers["variance_exact"], rtol=1e-4)
    np.testing.assert_allclose(numbers["skewness_simulated"], numbers["skewness_exact"], rtol=2e-4)


def test_long_tubes_are_gaussian(numbers):
    # Variance over Taylor's: 1 - 1/(16 X), from the closed form of a long tube.
    last = numbers["fourier_number"] == 100
    assert numbers["variance_simulated"][last] == pytest.approx(1 - 1 / 1600, rel=1e-4)
    assert numbers["plates_ratio"][last] == pytest.approx(1, abs=3e-3)


@pytest.mark.parametrize("fourier", [0.3, 1.0, 4.0])
def test_plates_of_both_kinds_against_the_frequency_domain(numbers, fourier):
    at = numbers["fourier_number"] == fourier
    figures = measure(reference_band(fourier))
    expected = figures["plates_half_height"] / figures["plates_moments"]
    assert numbers["plates_ratio"][at] == pytest.approx(expected[0], rel=1e-3)


def test_curves_against_the_frequency_domain():
    shown = exhibit_of("outlet-signals")
    for fourier, curve in shown.groups("fourier_number"):
        if fourier not in (0.3, 1.0):
            continue
        band = reference_band(fourier)
        seen = curve["time"] > 0.35
        exact = np.interp(curve["time"][seen], band.times[0], band.values[0])
        apart = np.abs(curve["signal"][seen] - exact).max() / exact.max()
        assert apart < 1e-3


def test_variance_behind_a_joint():
    # Stirred core and slab: T^2 + 2 B c / 3 (sources in parts/fitting/theory.py), by hand; c by the
    # rates of diffusion and of exchange.
    shown = exhibit_of("joint")
    for _, case in shown.groups("joint"):
        share = case["unswept"][0]
        if case["joint"][0] == "no gap":
            continue
        time = np.pi / 4 * BORE**2 * LENGTH / FLOW
        depth = BORE / 2 * (1 - np.sqrt(1 - share))
        rate = DIFFUSIVITY / depth**2 if share else np.inf
        if case["exchange"][0]:
            rate += case["exchange"][0] / (3 * share * time)
        expected = SIGMA**2 + time**2 + 2 / 3 * share * time / rate
        assert case["variance"][0] == pytest.approx(expected, rel=1e-4)


def test_variances_add_up():
    # Cumulants of independent delays add: each part here is linear and does not change in time.
    shown = exhibit_of("sum-of-variances")
    np.testing.assert_allclose(
        shown.column("variance_simulated"), shown.column("variance_exact"), rtol=1e-4
    )
    assert np.all(shown.column("variance_textbook") > 0.999 * shown.column("variance_exact"))


def test_variance_of_one_tube_straight_bent_and_coiled():
    # straight by Taylor's variance times the exact ratio of its Fourier number; the coiled tube's
    # by finite volumes and by a Zernike expansion that share no code with this one
    shown = exhibit_of("straight-bent-coiled")
    found = {}
    for name, line in shown.groups("laid"):
        at = np.isclose(line["flow_rate"], 0.5e-6 / 60, rtol=1e-9, atol=0)
        found[name] = float(np.nanmax(line["variance_volume"][at])) * 1e18
    assert found["straight"] == pytest.approx(3.23, rel=5e-3)
    assert found["bent"] == pytest.approx(1.77, rel=5e-3)
    assert found["coiled"] == pytest.approx(1.0, rel=2e-2)
