"""Orders of what is done to signals: weights of a known response, interpolation, outlines."""

import numpy as np
import pytest
from reference import transfer
from reference.outline import Outline
from scipy.stats import exponnorm, norm

from tailrace.signals import Band
from tailrace.signals.cubic import doubled, sample
from tailrace.signals.response import convolved, through_tanks, uniform_weights

SIGMA = 1.0
STEPS = (0.2, 0.1, 0.05)
WITHIN = 0.1
OFFSETS = np.arange(12) / 12
"""Where the grid stands against the peak; errors depend on it, so the worst is taken."""


def gaussian(step, offset=0.0):
    reach = int(np.ceil(10 * SIGMA / step))
    times = (np.arange(-reach, reach + 1) + offset) * step
    values = norm.pdf(times, scale=SIGMA)
    return Band(values[None], times[:1], np.array([step]))


def order(errors):
    return np.log2(np.array(errors[:-1]) / np.array(errors[1:]))


def test_weights_of_a_stirred_volume():
    # truth: the exponentially modified Gaussian (scipy.stats.exponnorm)
    constant = np.array([0.7])
    errors = []
    for step in STEPS:
        band = through_tanks(gaussian(step), constant, 1.0, 1e-13)
        errors.append(np.abs(band.values[0] - exponnorm(0.7).pdf(band.times[0])).max())
    assert order(errors)[-1] == pytest.approx(4.0, abs=WITHIN)


def test_weights_of_an_even_response():
    # truth: the mean of the Gaussian over the interval, by its distribution function
    one, length = np.array([1.0]), 0.73
    errors = []
    for step in STEPS:
        weights, first = uniform_weights(0 * one, length * one, step * one)
        band = convolved(gaussian(step), weights, first)
        late = band.times[0]
        expected = (norm.cdf(late) - norm.cdf(late - length)) / length
        errors.append(np.abs(band.values[0] - expected).max())
    assert order(errors)[-1] == pytest.approx(4.0, abs=WITHIN)


def test_weights_of_a_fractional_number_of_tanks():
    # t^0.3 begins with an infinite slope; what enters is a smooth cubic all the same
    tanks, residence = 1.3, 0.9
    times = np.arange(-2.0, 4.0, 0.4)
    expected = transfer.back_to_time(
        lambda omega: transfer.gaussian(omega, SIGMA) * transfer.tanks(omega, residence, tanks),
        times,
        10.0,
        200,
    )
    errors = []
    for step in STEPS:
        band = through_tanks(gaussian(step), np.array([residence]), tanks, 1e-13)
        errors.append(np.abs(sample(band, times[None])[0] - expected).max())
    assert order(errors)[-1] == pytest.approx(4.0, abs=WITHIN)


@pytest.mark.parametrize("between", ["sample", "doubled"])
def test_interpolation(between):
    errors = []
    for step in STEPS:
        band = gaussian(step)
        if between == "doubled":
            read = doubled(band)
            times, values = read.times[0], read.values[0]
        else:
            times = np.linspace(-3, 3, 1201)
            values = sample(band, times[None])[0]
        errors.append(np.abs(values - norm.pdf(times)).max())
    assert order(errors)[-1] == pytest.approx(4.0, abs=WITHIN)


def test_outline_between_the_samples():
    times = np.linspace(-3, 3, 1201)
    errors = [
        np.abs(Outline(gaussian(step)).curve(times) - norm.pdf(times)).max() for step in STEPS
    ]
    assert order(errors)[-1] == pytest.approx(4.0, abs=WITHIN)


FIGURES = {
    "height": (lambda outline: outline.height, 1 / np.sqrt(2 * np.pi)),
    "width at half height": (lambda outline: outline.width(0.5), np.sqrt(8 * np.log(2))),
    "width at a tenth": (lambda outline: outline.width(0.1), np.sqrt(8 * np.log(10))),
}


@pytest.mark.parametrize("name", FIGURES)
def test_figures_of_a_gaussian(name):
    # a width depends on where both flanks stand in their cells: the mean over four halvings
    read, true = FIGURES[name]
    errors = [
        max(abs(read(Outline(gaussian(step, offset))) - true) for offset in OFFSETS)
        for step in (0.4, 0.2, 0.1, 0.05, 0.025)
    ]
    assert order(errors).mean() == pytest.approx(4.0, abs=WITHIN)
