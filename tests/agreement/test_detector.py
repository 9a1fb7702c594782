"""The detector's filter and its averaged points against closed form."""

import numpy as np
import pytest
from reference.journeys import FLOW, bands_behind, gaussian, plug, stream
from scipy.stats import norm

from tailrace.measures import measure, moments
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.detector.part import RISE_TIMES_IN_TIME_CONSTANTS, Detector
from tailrace.parts.detector.theory import theory
from tailrace.signals.cubic import sample


def recorded(injection, **settings):
    passing = stream()
    return bands_behind((injection, passing), (Detector(**settings), passing))[-1]


def test_rise_time_of_a_step():
    # first-order filter: from 10 % to 90 % in ln 9 time constants
    constant, duration, passing = 0.3, 4.0, stream()
    detector = Detector(time_constant=constant)
    # refinement 8: 256 instants a plug, so that the edge is steep against the time constant
    band = bands_behind((plug(duration), passing), (detector, passing), refinement=8)[-1]
    late = np.linspace(0.0, 0.9 * duration, 20_001)
    heights = sample(band, late[None])[0] * duration
    low, high = (np.interp(level, heights, late) for level in (0.1, 0.9))
    assert high - low == pytest.approx(np.log(9) * constant, rel=2e-3)
    assert pytest.approx(2.197225, abs=1e-6) == RISE_TIMES_IN_TIME_CONSTANTS


@pytest.mark.parametrize("constant", [0.02, 0.1, 1.0])
def test_a_filter_is_a_stirred_volume_in_time(constant):
    # tau^2 F^2 of volume variance: 0.1 s at 1 mL/min is 2.777778 uL^2
    passing, detector = stream(), Detector(time_constant=constant, interval=0.01)
    filtered = moments(recorded(gaussian(0.1), time_constant=constant, interval=0.01))
    mixed = bands_behind(
        (gaussian(0.1), passing), (Chamber(name="same", volume=constant * FLOW), passing)
    )[-1]
    assert filtered.mean == pytest.approx(moments(mixed).mean, rel=1e-6)
    assert filtered.variance == pytest.approx(moments(mixed).variance, rel=1e-6)
    assert filtered.third == pytest.approx(moments(mixed).third, rel=1e-5)
    assert theory(detector, passing).variance == pytest.approx(constant**2, rel=1e-12)
    if constant == 0.1:
        flow = 1e-6 / 60
        assert constant**2 * flow**2 * 1e18 == pytest.approx(2.777778, rel=1e-6)


@pytest.mark.parametrize("interval", [0.05, 0.2, 0.7])
def test_an_averaged_point_is_the_mean_over_the_interval_before_it(interval):
    sigma = 0.3
    band = recorded(gaussian(sigma), interval=interval, averaged=True)
    times = band.times[0]
    expected = (norm.cdf(times / sigma) - norm.cdf((times - interval) / sigma)) / interval
    assert band.values[0] == pytest.approx(expected, abs=5e-5 * expected.max())
    assert np.rint(times / interval) == pytest.approx(times / interval, abs=1e-9)


@pytest.mark.parametrize("interval", [0.05, 0.2])
def test_averaging_adds_a_twelfth_of_the_squared_interval(interval):
    # Sternberg, Adv. Chromatogr. 2 (1966) 205 (from memory): dt^2/12, and half an interval of delay
    plain = moments(recorded(gaussian(0.3), interval=interval))
    mean = moments(recorded(gaussian(0.3), interval=interval, averaged=True))
    # a small difference of large numbers: held to 5e-6 of the band's own variance
    added = mean.variance - plain.variance
    assert added == pytest.approx(interval**2 / 12, abs=5e-6 * plain.variance[0])
    assert mean.mean - plain.mean == pytest.approx(interval / 2, rel=1e-5)


@pytest.mark.parametrize("width", [0.07, 0.4])
def test_a_moving_average_has_a_width_of_its_own(width):
    sigma, interval = 0.3, 0.1
    band = recorded(gaussian(sigma), interval=interval, moving_average=width)
    times = band.times[0]
    expected = (norm.cdf(times / sigma) - norm.cdf((times - width) / sigma)) / width
    assert band.values[0] == pytest.approx(expected, abs=5e-5 * expected.max())
    text = theory(Detector(moving_average=width), stream())
    assert (text.mean[0], text.variance[0]) == pytest.approx((width / 2, width**2 / 12))
    same = Detector(interval=width, averaged=True, time_constant=0.2)
    other = Detector(interval=interval, moving_average=width, time_constant=0.2)
    assert other.noise_bandwidth() == pytest.approx(same.noise_bandwidth(), rel=1e-12)


@pytest.mark.parametrize("phase", [0.0, 0.25, 0.9])
def test_points_fall_at_their_phase(phase):
    sigma, interval = 0.3, 0.4
    band = recorded(gaussian(sigma), interval=interval, sampling_phase=phase)
    shares = band.times[0] / interval - phase
    assert np.rint(shares) == pytest.approx(shares, abs=1e-9)
    expected = norm.pdf(band.times[0], scale=sigma)
    assert band.values[0] == pytest.approx(expected, abs=5e-5 * expected.max())


def test_points_at_an_instant_are_the_signal_there():
    sigma, interval = 0.3, 0.1
    band = recorded(gaussian(sigma), interval=interval)
    expected = norm.pdf(band.times[0], scale=sigma)
    assert band.values[0] == pytest.approx(expected, abs=5e-5 * expected.max())
    assert band.step == pytest.approx(interval, rel=1e-15)


def test_figures_hardly_depend_on_the_interval_once_it_is_short():
    # two points a standard deviation already give the width at half height to 0.1 %
    wide, narrow = (
        measure(recorded(gaussian(0.1), interval=interval))["width_half"][0] / 0.1
        for interval in (0.05, 0.0125)
    )
    true = np.sqrt(8 * np.log(2))
    assert wide == pytest.approx(true, rel=1e-3)
    assert narrow == pytest.approx(true, rel=5e-5)
    assert abs(narrow - true) < abs(wide - true) / 8
