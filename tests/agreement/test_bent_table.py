"""The table of cumulants of bent tubes, entries computed again at random."""

import numpy as np
import pytest

from tailrace.parts.tube.bent import tabulated, theory
from tailrace.parts.tube.bent.galerkin import section
from tailrace.parts.tube.bent.theory import at_lengths
from tailrace.parts.tube.theory import reduced_cumulants


def anew(random, strongest, order, steps):
    """Relative differences of some lengths of one tube, (lengths, 2) array."""
    strength = float(tabulated.STIRRED * np.sinh(random.uniform(0.3, np.arcsinh(strongest / 300))))
    length = np.exp(np.sort(random.uniform(np.log(tabulated.LEAST), np.log(9.0), 6)))
    dean = float(np.sqrt(random.uniform() * tabulated.highest_square(strength)))
    expected = at_lengths(section(dean, order), strength, length, steps)
    every = np.ones(length.size)
    return tabulated.cumulants(dean * every, strength * every, length) / expected - 1


def test_random_entries():
    random = np.random.default_rng(3)
    apart = np.abs([anew(random, 2e3, 36, 14) for _ in range(3)]).max(axis=(0, 1))
    assert apart[0] < 1e-4
    assert apart[1] < 5e-4


def test_many_random_entries_of_bent_tubes():
    random = np.random.default_rng(4)
    apart = np.abs([anew(random, tabulated.MOST_STRENGTH, 76, 20) for _ in range(8)])
    assert apart[..., 0].max() < 1e-4
    assert apart[..., 1].max() < 5e-4


def test_random_entries_of_what_stands_in_for_a_bend():
    random = np.random.default_rng(6)
    node = int(random.integers(theory.FIRST_NODE, theory.LAST_NODE + 1))
    faster = theory.stirred(theory.STRENGTHS, np.full(9, np.exp(node * theory.NODE)))
    assert np.log(faster) == pytest.approx(theory.solved_at(node), abs=1e-6)


@pytest.mark.parametrize("length", [0.04, 0.5, 20.0])
def test_a_bend_that_hardly_stirs_leaves_a_straight_tube(length):
    at = tuple(np.array([one]) for one in (0.01, 0.2, length))
    assert tabulated.covers(*at).all()
    straight = np.array(reduced_cumulants(at[2]))[:, 0]
    assert tabulated.cumulants(*at)[0] == pytest.approx(straight, rel=2e-6)
