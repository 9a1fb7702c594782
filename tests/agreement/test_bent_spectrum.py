"""The table of bent tubes, entries computed again at random."""

import numpy as np
import pytest
from threadpoolctl import threadpool_limits

from tailrace.parts.tube.bent import spectrum, theory
from tailrace.parts.tube.bent.galerkin import section
from tailrace.parts.tube.bent.spectral import Model, shots
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.parts.tube.bent.theory import at_lengths
from tailrace.parts.tube.theory import reduced_cumulants
from tailrace.parts.tube.transfer import straight


def anew(random, strongest, order, steps, count):
    """Differences of some lengths of one tube: of variance and third cumulant, and of T."""
    strength = float(spectrum.STIRRED * np.sinh(random.uniform(0.3, np.arcsinh(strongest / 300))))
    length = np.exp(np.sort(random.uniform(np.log(spectrum.LEAST_PASSED), np.log(9.0), count)))
    dean = float(np.sqrt(random.uniform() * spectrum.highest_square(strength)))
    found = at_lengths(section(dean, order), strength, length, steps)
    same = dean * np.ones(count), strength * np.ones(count), length
    assert spectrum.passes(*same).all()
    u = np.sinh(np.linspace(0.0, np.arcsinh(1e3), 40))
    omega = u / np.sqrt(found[:, :1])
    told = spectrum.response(*same, omega)
    away = []
    with threadpool_limits(1, "blas"):
        for n, x in enumerate(length):
            stretch = Stretch(dean=dean, strength=strength, length=x, residence=x)
            model = Model.built([stretch], order, shots(omega[n, -1], 1 / x))
            expected = model.at_lengths(omega[n], length[n : n + 1])[:, 0]
            expected *= np.exp(-1j * omega[n] * stretch.transit)
            away.append(np.abs(told[n] - expected).max())
    apart = spectrum.cumulants(*same) / found - 1
    return np.abs(apart).max(axis=0), max(away)


def held(random, tubes, *of):
    for _ in range(tubes):
        (variance, third), away = anew(random, *of)
        assert variance < 1e-4
        assert third < 5e-4
        assert away < spectrum.ERROR


def test_random_entries():
    held(np.random.default_rng(3), 1, 2e3, 36, 14, 2)


def test_many_random_entries_of_bent_tubes():
    held(np.random.default_rng(4), 3, spectrum.MOST_STRENGTH, 76, 20, 3)


def test_the_end_of_the_table_is_smooth():
    # a line that began too late read its last number from the next row
    strength = np.linspace(2.9e4, spectrum.MOST_STRENGTH, 24)
    found = np.log(spectrum.cumulants(np.zeros(24), strength, np.full(24, 5.0)))
    series = np.polynomial.Polynomial.fit
    for one in found.T:
        assert series(strength, one, 4)(strength) == pytest.approx(one, abs=2e-5)


def test_cumulants_of_very_short_tubes():
    at = np.full(3, 2.0), np.full(3, 900.0), np.array([0.0101, 0.014, 0.026])
    expected = at_lengths(section(2.0, 40), 900.0, at[2], 20)
    assert spectrum.covers(*at).all()
    assert not spectrum.passes(*at).any()
    assert spectrum.cumulants(*at) == pytest.approx(expected, rel=1e-4)


def test_random_entries_of_what_stands_in_for_a_bend():
    random = np.random.default_rng(6)
    node = int(random.integers(theory.FIRST_NODE, theory.LAST_NODE + 1))
    faster = theory.stirred(theory.STRENGTHS, np.full(9, np.exp(node * theory.NODE)))
    assert np.log(faster) == pytest.approx(theory.solved_at(node), abs=1e-6)


@pytest.mark.parametrize("length", [0.04, 0.5, 9.0, 20.0, 90.0])
def test_a_bend_that_hardly_stirs_leaves_a_straight_tube(length):
    at = tuple(np.array([one]) for one in (0.01, 0.2, length))
    plain = np.array(reduced_cumulants(at[2]))[:, 0]
    assert spectrum.passes(*at).all()
    assert spectrum.cumulants(*at)[0] == pytest.approx(plain, rel=2e-6)
    omega = np.sinh(np.linspace(0.0, np.arcsinh(1e3), 50))[None] / np.sqrt(plain[0])
    away = spectrum.response(*at, omega) - straight(at[2], at[2], omega)
    assert np.abs(away).max() < spectrum.ERROR


def test_no_tube_at_all_is_no_error():
    """As where all versions of a tube lie outside the table."""
    none = np.empty(0)
    assert spectrum.response(none, none, none, np.empty((0, 5))).shape == (0, 5)
