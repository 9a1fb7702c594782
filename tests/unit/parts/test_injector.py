"""The injected band: amount, moments and outline, whatever the grid that it is written on."""

import numpy as np
import pytest
from reference.journeys import FLOW, gaussian, plug, stream

from tailrace.errors import PartError
from tailrace.measures import moments
from tailrace.parts import KINDS
from tailrace.parts.injector.part import Injector
from tailrace.signals import Band, Resolution

SIGNAL = Injector(
    shape="signal",
    signal_times=np.array([0.1, 0.2, 0.4, 0.5, 1.3]),
    signal_heights=np.array([0.0, 3.0, 1.0, 5.0, 0.0]),
)
INJECTIONS = {
    "plug": plug(0.2),
    "washout": Injector(shape="washout", volume=0.2 * FLOW, washout_volume=0.1 * FLOW),
    "gaussian": gaussian(0.05),
    "signal": SIGNAL,
}
# a whole part of the plug's 0.2 s, and steps that are not
STEPS = (0.2 / 32, 0.0191, 0.07, 0.3)


def written(injection, step):
    pulse = Band(np.ones((1, 1)) / step, np.zeros(1), np.array([step]))
    return KINDS["injector"].march(injection, stream().over(1), pulse, Resolution())


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("shape", INJECTIONS)
def test_amount_and_moments_do_not_depend_on_the_grid(shape, step):
    injection = INJECTIONS[shape]
    found = moments(written(injection, step))
    text = KINDS["injector"].theory(injection, stream().over(1))
    # the washout's tail is cut at 1e-11 of its amount: 25 time constants, cubed, for the third
    assert found.area == pytest.approx(1.0, abs=1e-9)
    assert found.mean == pytest.approx(text.mean, abs=1e-9)
    assert found.variance == pytest.approx(text.variance, rel=1e-7)
    assert found.third == pytest.approx(text.third, abs=1e-6 * text.variance[0] ** 1.5)


def test_theory_of_a_washout_by_quadrature():
    duration, constant = 0.2, 0.1
    times = np.linspace(0.0, 6.0, 600_001)
    heights = np.where(times < duration, 1.0, np.exp(-(times - duration) / constant))
    weight = heights / heights.sum()
    mean = weight @ times
    text = KINDS["injector"].theory(INJECTIONS["washout"], stream().over(1))
    assert text.mean == pytest.approx(mean, rel=1e-4)
    assert text.variance == pytest.approx(weight @ (times - mean) ** 2, rel=1e-4)
    assert text.third == pytest.approx(weight @ (times - mean) ** 3, rel=1e-4)


@pytest.mark.parametrize("jitter", [0.0, 0.04])
def test_a_measured_injection_has_the_moments_of_its_points(jitter):
    random = np.random.default_rng(5)
    times = np.arange(0.0, 4.01, 0.2) + random.uniform(-jitter, jitter, 21)
    heights = np.exp(-((times - 1.8) ** 2) / (2 * 0.072)) + random.normal(0.0, 0.004, 21)
    heights[[0, -1]] = 0.0
    weight = np.gradient(times) * heights
    mean = weight @ times / weight.sum()
    centred = [weight @ (times - mean) ** power / weight.sum() for power in (2, 3)]
    injection = Injector(shape="signal", signal_times=times, signal_heights=heights)
    text = KINDS["injector"].theory(injection, stream().over(1))
    for step in (0.025, 0.11):
        found = moments(written(injection, step))
        for mine in (found, text):
            assert mine.mean == pytest.approx(mean, abs=1e-9)
            assert mine.variance == pytest.approx(centred[0], rel=1e-8)
            assert mine.third == pytest.approx(centred[1], abs=1e-8)


def test_a_measured_gaussian_is_no_wider_than_it_was():
    times = np.arange(0.0, 4.01, 0.2)
    heights = np.exp(-((times - 2.0) ** 2) / (2 * 0.072))
    injection = Injector(shape="signal", signal_times=times, signal_heights=heights)
    band = written(injection, 0.025)
    exact = np.exp(-((band.times - 2.0) ** 2) / (2 * 0.072)) / np.sqrt(2 * np.pi * 0.072)
    assert moments(band).variance == pytest.approx(0.072, rel=1e-6)
    assert band.values == pytest.approx(exact, abs=0.01 * exact.max())


def test_a_plug_is_flat_and_ends():
    band = written(plug(0.2), 0.2 / 64)
    inside = (band.times > 0.02) & (band.times < 0.18)
    outside = (band.times < -0.01) | (band.times > 0.21)
    assert band.values[inside] == pytest.approx(1 / 0.2, rel=1e-9)
    assert band.values[outside] == pytest.approx(0.0, abs=1e-9)


def test_sternbergs_volume_variances():
    # Sternberg, Adv. Chromatogr. 2 (1966) 205 (from memory): V^2/12; 5 and 20 uL
    for microlitres, expected in ((5.0, 2.083333), (20.0, 33.33333)):
        injection = Injector(shape="plug", volume=microlitres * 1e-9)
        variance = KINDS["injector"].theory(injection, stream().over(1)).variance
        assert variance * FLOW**2 * 1e18 == pytest.approx(expected, rel=1e-6)


def test_a_signal_without_area_is_refused():
    with pytest.raises(PartError, match="injection: the injected signal has no area"):
        Injector(
            shape="signal", signal_times=np.array([0.0, 1.0]), signal_heights=np.array([0.0, 0.0])
        )
