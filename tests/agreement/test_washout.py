"""The washout injection against the profile it stands for, and behind a filter by convolution.

A loop that is rinsed gives a plateau and then an exponential decay (plug and exponential parts of
an injection: Sternberg, Adv. Chromatogr. 2 (1966) 205, from memory).
"""

import numpy as np
import pytest
from reference.journeys import FLOW, bands_behind, relative_l2, stream
from scipy.integrate import quad

from tailrace.measures import moments
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.injector.part import Injector

PROFILES = [(0.2, 0.1), (0.5, 0.05), (0.1, 0.4)]


def washout(plug, tail):
    return Injector(shape="washout", volume=plug * FLOW, washout_volume=tail * FLOW)


def profile(time, plug, tail):
    height = 1 / (plug + tail)
    return np.where(time < 0, 0.0, height * np.exp(-np.maximum(time - plug, 0.0) / tail))


@pytest.mark.parametrize(("plug", "tail"), PROFILES)
def test_plateau_and_tail(plug, tail):
    (band,) = bands_behind((washout(plug, tail), stream()))
    times, step = band.times[0], band.step[0]
    # at the two edges, the start and the corner, samples stand for their neighbourhood
    clear = (np.abs(times) > 2 * step) & (np.abs(times - plug) > 2 * step)
    expected = profile(times, plug, tail)
    # a sample is the mean over the cubic's weights: 11/720 (step/tail)^4 away from the value
    bar = (1e-6 + 0.02 * (step / tail) ** 4) / (plug + tail)
    assert band.values[0][clear] == pytest.approx(expected[clear], abs=bar)
    assert band.area == pytest.approx(1, abs=1e-9)


@pytest.mark.parametrize(("plug", "tail"), PROFILES)
def test_behind_a_stirred_volume(plug, tail):
    held = 0.15
    chamber = Chamber(name="chamber", volume=held * FLOW)
    _, out = bands_behind((washout(plug, tail), stream()), (chamber, stream()))
    times = out.times[0][:: max(1, out.values.shape[1] // 60)]

    def convolved(time):
        def integrand(u):
            return float(profile(u, plug, tail)) * np.exp(-(time - u) / held) / held

        return quad(integrand, 0, time, points=[min(plug, time)], limit=200)[0] if time > 0 else 0.0

    found = np.interp(times, out.times[0], out.values[0])
    assert relative_l2(found, np.array([convolved(time) for time in times])) < 3e-3
    assert moments(out).mean == pytest.approx(
        (plug**2 / 2 + tail * (plug + tail)) / (plug + tail) + held, rel=1e-6
    )
