"""Both ways through a bent tube against the exact cumulants, and against each other."""

from functools import cache

import numpy as np
import pytest

from tailrace.measures import moments
from tailrace.parts.tube.bent import spectral
from tailrace.parts.tube.bent.march import march
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.parts.tube.bent.theory import cumulants
from tailrace.signals import Band
from tailrace.signals.cubic import sample


@cache
def gaussian(sigma):
    """A smooth band, in residence times of the tube."""
    step = sigma / 5
    times = step * np.arange(-30, 31)
    values = np.exp(-((times / sigma) ** 2) / 2)
    return Band(values[None] / (values.sum() * step), times[:1], np.array([step]))


@cache
def plug(width):
    """A band with edges, each met half way between two samples."""
    step = width / 40
    values = np.convolve(np.ones(40), [0.5, 0.5])
    return Band(values[None] / (values.sum() * step), np.array([-width / 2]), np.array([step]))


def bent(strength, length, dean=0.0, residence=1.0, turned=False):
    return Stretch(dean=dean, strength=strength, length=length, residence=residence, turned=turned)


def finite_volumes(chain, band):
    return march([chain], band, 1.0, 1e-7)


def added(band, inlet):
    after, before = moments(band), moments(inlet)
    return after.variance[0] - before.variance[0], after.third[0] - before.third[0]


def difference(one, other):
    """L2 norm of what two curves differ by, over that of the second."""
    read = sample(one, other.times)
    return np.linalg.norm(read - other.values) / np.linalg.norm(other.values)


@pytest.mark.parametrize(
    ("strength", "length"),
    [
        (0.0, 0.1), (300.0, 1.0), (300.0, 3.0), (1e4, 0.03), (1e4, 0.3), (1e4, 3.0), (1e4, 10.0),
        (1e5, 0.3), (1e5, 3.0), (1e5, 10.0),
    ],
)  # fmt: skip
def test_the_march_adds_the_exact_cumulants(strength, length):
    inlet = gaussian(0.05)
    variance, third = added(finite_volumes([bent(strength, length)], inlet), inlet)
    exact = cumulants(0.0, strength, length)
    assert variance * length**2 == pytest.approx(exact[0], rel=1e-3)
    assert third * length**3 == pytest.approx(exact[1], rel=5e-3)


@pytest.mark.parametrize(
    ("dean", "strength", "length"), [(0.0, 300.0, 1.0), (0.0, 3000.0, 0.1), (20.0, 3000.0, 0.3)]
)
def test_the_spectral_way_adds_the_exact_cumulants(dean, strength, length):
    inlet = gaussian(0.05)
    variance, third = added(spectral.march([[bent(strength, length, dean)]], inlet), inlet)
    exact = cumulants(dean, strength, length)
    assert variance * length**2 == pytest.approx(exact[0], rel=2e-5)
    assert third * length**3 == pytest.approx(exact[1], rel=2e-4)


@pytest.mark.parametrize(
    ("inlet", "dean", "strength", "length"),
    [
        (gaussian(0.02), 0.0, 1e3, 0.1),
        (gaussian(0.05), 0.0, 1e4, 0.1),
        (plug(0.2), 0.0, 5e3, 0.05),
        (gaussian(0.1), 40.0, 1e3, 0.3),
        (gaussian(0.05), 60.0, 1e4, 1.0),
        (gaussian(0.02), 0.0, 3e4, 0.1),
    ],
    ids=["slightly stirred", "stirred", "plug", "fast", "faster", "much stirred"],
)
def test_both_ways_say_the_same(inlet, dean, strength, length):
    chain = [bent(strength, length, dean)]
    assert difference(finite_volumes(chain, inlet), spectral.march([chain], inlet)) < 5e-3


@pytest.mark.parametrize("way", [finite_volumes, lambda chain, band: spectral.march([chain], band)])
def test_two_halves_are_the_whole(way):
    inlet = gaussian(0.05)
    whole = way([bent(2e3, 0.2)], inlet)
    halves = way([bent(2e3, 0.08, residence=0.4), bent(2e3, 0.12, residence=0.6)], inlet)
    assert difference(halves, whole) < 2e-3


def test_both_ways_say_the_same_of_an_s_bend_behind_a_straight_length():
    inlet = gaussian(0.05)
    chain = [
        bent(0.0, 0.05, residence=0.3),
        bent(2e3, 0.1, 5.0, residence=0.3),
        bent(2e3, 0.1, 5.0, residence=0.4, turned=True),
    ]
    s_bend = finite_volumes(chain, inlet)
    assert difference(s_bend, spectral.march([chain], inlet)) < 3e-3
    one_way = [*chain[:2], bent(2e3, 0.1, 5.0, residence=0.4)]
    assert difference(finite_volumes(one_way, inlet), s_bend) > 1e-2


def test_nothing_is_lost_and_all_arrives_in_time():
    inlet = plug(0.1)
    band = march([[bent(3e3, 0.1)], [bent(1e4, 0.1, 8.0)]], Band(
        np.repeat(inlet.values, 2, axis=0), np.repeat(inlet.start, 2), np.repeat(inlet.step, 2)
    ), 0.5, 1e-7)  # fmt: skip
    assert band.area == pytest.approx(np.ones(2), abs=1e-6)
    assert moments(band).mean == pytest.approx(moments(inlet).mean + np.ones(2), abs=1e-5)
