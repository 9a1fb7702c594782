"""The tube against closed form, published eigenvalues and an independent spectral solution."""

from dataclasses import replace

import mpmath
import numpy as np
import pytest
from reference import transfer
from reference.journeys import bands_behind, gaussian, plug, relative_l2, stream, tube_with

from tailrace.measures import moments
from tailrace.parts.tube.galerkin import radial_modes
from tailrace.parts.tube.part import Tube
from tailrace.parts.tube.theory import MODES, reduced_cumulants, theory

# Siegel, Sparrow and Hallman, Appl. Sci. Res. A 7 (1958) 386, table of beta^2 (digits from memory,
# confirmed below with Kummer's function)
PUBLISHED_EIGENVALUES = (25.6796, 83.8618, 174.167, 296.536, 450.947, 637.387, 855.850)


def test_eigenvalues_are_the_published_ones():
    rates, _ = radial_modes(MODES)
    assert 2 * rates[1:8] == pytest.approx(PUBLISHED_EIGENVALUES, rel=3e-6)


def test_eigenvalues_are_zeros_of_the_wall_gradient_of_kummers_function():
    rates, _ = radial_modes(MODES)
    with mpmath.workdps(30):

        def gradient(beta):
            def profile(eta):
                y = beta * eta**2
                return mpmath.exp(-y / 2) * mpmath.hyp1f1(0.5 - beta / 4, 1, y)

            return mpmath.diff(profile, 1)

        betas = [mpmath.findroot(gradient, np.sqrt(2 * rate)) for rate in rates[1:11]]
        known = [float(beta**2 / 2) for beta in betas]
    assert rates[1:11] == pytest.approx(known, rel=1e-12)


@pytest.mark.parametrize("fourier", [3.0, 10.0, 100.0])
def test_long_tubes_follow_the_asymptote_to_rounding(fourier):
    variance, third = reduced_cumulants(np.array([fourier]))
    assert variance[0] == pytest.approx(fourier / 24 - 1 / 384, rel=1e-12)
    assert third[0] == pytest.approx(fourier / 320 - 19 / 71680, rel=1e-11)


@pytest.mark.parametrize("fourier", [1.0, 3.0, 10.0, 100.0])
def test_long_tubes_follow_the_asymptote(fourier):
    # the remainder decays as exp(-12.84 X): Taylor 1953 with the first correction for the inlet
    variance, third = reduced_cumulants(np.array([fourier]))
    assert variance[0] == pytest.approx(fourier / 24 - 1 / 384, rel=1e-6)
    assert third[0] == pytest.approx(fourier / 320 - 19 / 71680, rel=2e-5)


def test_many_lanes_have_the_cumulants_of_each():
    fourier = np.exp(np.random.default_rng(1).uniform(np.log(1e-3), np.log(1e3), 64))
    alone = np.array([reduced_cumulants(np.array([one])) for one in fourier])[:, :, 0].T
    assert np.array(reduced_cumulants(fourier)) == pytest.approx(alone, rel=1e-8)


def test_short_tubes_approach_pure_convection():
    # Without diffusion E = tau^2/(2 t^3) beyond tau/2 (Bosworth, Phil. Mag. 39 (1948) 847), whose
    # second moment grows as log(t)/2 without end. Diffusion ends it when a layer at the wall as
    # thick as a tau/t mixes, at t/tau in proportion to X^(-1/3): halving X adds log(2)/6, with a
    # correction in proportion to X^(1/3) that two differences remove.
    fourier = np.array([0.001, 0.002, 0.004])
    variance, _ = reduced_cumulants(fourier)
    growth = -np.diff(variance / fourier**2) / np.log(2)
    root = 2 ** (1 / 3)
    assert (root * growth[0] - growth[1]) / (root - 1) == pytest.approx(1 / 6, rel=0.01)


def test_taylor_worked_point():
    # bore 0.12 mm, 0.5 m, 1 mL/min, D 1e-9 m^2/s: 14.137 uL^2 by Taylor, half of it true
    tube = Tube(name="tube", bore=0.12e-3, length=0.5)
    flow = 1e-6 / 60
    passing = replace(stream(1e-9), flow_rate=flow)
    text = theory(tube, passing)
    assert text.gaussian_variance[0] * flow**2 * 1e18 == pytest.approx(14.1372, rel=1e-5)
    assert tube.fourier_number(passing) == pytest.approx(0.0942478, rel=1e-5)
    assert 0.5 < text.variance[0] / text.gaussian_variance[0] < 0.54


@pytest.mark.parametrize("fourier", [0.003, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0])
@pytest.mark.parametrize("inlet", [gaussian(0.1), gaussian(0.5), plug(0.1), plug(2.0)], ids=str)
def test_variance_and_skewness_added(fourier, inlet):
    tube, passing = tube_with(fourier)
    before, after = (moments(b) for b in bands_behind((inlet, passing), (tube, passing)))
    text = theory(tube, passing)
    variance = after.variance - before.variance
    third = after.third - before.third
    assert after.mean - before.mean == pytest.approx(text.mean, rel=1e-8)
    assert variance == pytest.approx(text.variance, rel=1e-3)
    assert third / variance**1.5 == pytest.approx(text.skewness, rel=2e-3)


@pytest.mark.parametrize("fourier", [30.0, 100.0])
def test_long_tubes_too(fourier):
    tube, passing = tube_with(fourier)
    before, after = (moments(b) for b in bands_behind((gaussian(0.1), passing), (tube, passing)))
    text = theory(tube, passing)
    assert after.variance - before.variance == pytest.approx(text.variance, rel=1e-4)


def spectral_outlet(fourier, inlet, times, highest, window):
    count = int(np.ceil(highest * window / (2 * np.pi)))

    def chain(omega):
        return inlet(omega) * transfer.tube(omega, fourier, 1.0)

    return transfer.back_to_time(chain, times, highest, count)


@pytest.mark.parametrize(
    ("fourier", "bar"),
    [
        (0.003, 2e-3),
        (0.01, 1e-3),
        (0.03, 3e-4),
        (0.1, 3e-4),
        (0.3, 3e-4),
        (1.0, 3e-4),
        (10.0, 3e-4),
    ],
)
def test_outlet_curve_for_an_inlet_ten_times_sharper_than_the_transit(fourier, bar):
    tube, passing = tube_with(fourier)
    _, out = bands_behind((gaussian(0.1), passing), (tube, passing))
    times = out.times[0]
    expected = spectral_outlet(
        fourier, lambda omega: transfer.gaussian(omega, 0.1), times, 70.0, times[-1] + 1.0
    )
    assert relative_l2(out.values[0], expected) < bar


def test_a_plug_through_a_tube():
    tube, passing = tube_with(0.1)
    _, out = bands_behind((plug(0.1), passing), (tube, passing))
    times = out.times[0]
    expected = spectral_outlet(
        0.1, lambda omega: transfer.plug(omega, 0.1), times, 400.0, times[-1] + 1.0
    )
    assert relative_l2(out.values[0], expected) < 1e-3


def test_a_pulse_follows_pure_convection_where_there_is_no_time_to_mix():
    # Bosworth 1948: F(t) = 1 - (tau / 2t)^2. A narrow plug's running total must follow it while
    # t is short against the time in which the wall layer mixes.
    tube, passing = tube_with(0.003)
    _, out = bands_behind((plug(0.02), passing), (tube, passing))
    times, running = out.times[0] - 0.01, np.cumsum(out.values[0]) * out.step[0]
    for time in (0.6, 0.75, 1.0):
        assert np.interp(time, times, running) == pytest.approx(1 - (0.5 / time) ** 2, abs=0.02)
