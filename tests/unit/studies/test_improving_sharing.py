"""Shares: what they must keep whatever the game, and games whose answer is published."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tailrace.studies.improving.ordering import sampled_shapley_values, shapley_values, within

FINITE = st.floats(-1e4, 1e4)


def games(changes):
    """Values of all coalitions; some cannot be made, but the empty one can."""
    one = st.one_of(FINITE, st.just(float("nan")))
    return st.tuples(FINITE, *[one] * (2**changes - 1)).map(np.array)


@given(games(4))
def test_shares_are_the_mean_over_all_orders_and_add_up_to_the_whole(values):
    best = within(values)
    mean = np.zeros(4)
    for order in permutations(range(4)):
        taken = 0
        for bit in order:
            mean[bit] += (best[taken | 1 << bit] - best[taken]) / 24
            taken |= 1 << bit
    found = shapley_values(values)
    assert found == pytest.approx(mean, abs=1e-9)
    assert found.sum() == pytest.approx(np.nanmax(values) - values[0], abs=1e-9)


@given(games(3))
def test_a_change_that_does_nothing_gets_nothing(values):
    twice = np.concatenate([values, values])
    assert shapley_values(twice)[3] == 0
    assert shapley_values(twice)[:3] == pytest.approx(shapley_values(values), abs=1e-9)


@given(games(4))
def test_two_that_add_the_same_get_the_same(values):
    alike = values.copy()
    for rest in (0, 4, 8, 12):
        alike[rest | 1] = alike[rest | 2]
    first, second, *_ = shapley_values(alike)
    assert first == second


@given(games(3))
def test_within_is_the_best_that_can_be_made_of_a_coalition(values):
    expected = [
        max(values[one] for one in range(8) if one & ~whole == 0 and not np.isnan(values[one]))
        for whole in range(8)
    ]
    assert within(values).tolist() == expected


def test_runway_of_littlechild_and_owen():
    # A runway as long as the greatest aircraft needs; each length is shared by those that need it
    # (Littlechild and Owen, Management Science 20 (1973) 370; from memory).
    needs = [1.0, 3.0, 7.0, 12.0]
    costs = np.array(
        [
            max((needs[bit] for bit in range(4) if whole >> bit & 1), default=0)
            for whole in range(16)
        ]
    )
    expected = [1 / 4, 1 / 4 + 2 / 3, 1 / 4 + 2 / 3 + 4 / 2, 1 / 4 + 2 / 3 + 4 / 2 + 5]
    assert shapley_values(costs) == pytest.approx(expected, abs=1e-12)


def test_a_need_shares_evenly_in_what_it_opens():
    # conjunctive permission value: the second needs the first, alone neither is worth anything
    assert shapley_values(np.array([0.0, 0.0, np.nan, 10.0])) == pytest.approx([5.0, 5.0])


def test_a_change_that_harms_gets_nothing():
    assert shapley_values(np.array([5.0, 9.0, 2.0, 6.0])).tolist() == [4.0, 0.0]


def test_sampled_shares_add_up_and_meet_the_exact_ones_within_their_error():
    random = np.random.default_rng(3)
    values = within(random.uniform(0, 100, 64))
    share, error = sampled_shapley_values(lambda one: float(values[one]), range(6), 400, 1)
    exact = shapley_values(values)
    assert sum(share.values()) == pytest.approx(values[-1] - values[0], abs=1e-9)
    pulls = [(share[bit] - exact[bit]) / error[bit] for bit in range(6)]
    assert np.abs(pulls).max() < 4
    assert (share, error) == sampled_shapley_values(
        lambda one: float(values[one]), range(6), 400, 1
    )
