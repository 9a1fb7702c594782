"""The best order, against all orders."""

from itertools import permutations

import numpy as np
import pytest

from tailrace.studies.improving.ordering import best_order, swap, swappable


def staircase(values, weights, allowed, broken, order):
    """Steps that break something, minus the area, minus the plain area; None where not allowed."""
    taken, breaks, area, plain = 0, 0, 0.0, 0.0
    for bit in order:
        area -= (values[taken] - values[0]) * weights[bit]
        plain -= values[taken] - values[0]
        taken |= 1 << bit
        if not allowed[taken]:
            return None
        breaks += bool(broken[taken])
    return breaks, area, plain


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("priced", [False, True])
def test_the_best_of_all_orders(seed, priced):
    random = np.random.default_rng(seed)
    values = random.uniform(0, 1000, 32)
    weights = random.integers(0, 5, 5) if priced else np.ones(5)
    broken = random.random(32) < 0.2
    allowed = random.random(32) < 0.9
    allowed[[0, 1, 3, 7, 15, 31]] = True  # one way at least
    ways = {
        order: staircase(values, weights, allowed, broken, order)
        for order in permutations(range(5))
    }
    known = {order: way for order, way in ways.items() if way is not None}
    assert best_order(values, allowed, broken, weights) == min(known, key=lambda o: (known[o], o))


def test_equal_changes_come_in_the_order_of_the_file():
    values = np.array([float(bin(one).count("1")) for one in range(8)])
    sound, nothing = np.ones(8, bool), np.zeros(8, bool)
    assert best_order(values, sound, nothing, [1, 1, 1]) == (0, 1, 2)
    assert best_order(values, sound, nothing, [0, 0, 0]) == (0, 1, 2)


def test_what_is_cheap_for_its_gain_comes_first():
    values = np.array([0.0, 10.0, 8.0, 18.0])
    sound, nothing = np.ones(4, bool), np.zeros(4, bool)
    assert best_order(values, sound, nothing, [1, 1]) == (0, 1)
    assert best_order(values, sound, nothing, [900, 20]) == (1, 0)


def test_no_way_is_said():
    with pytest.raises(ValueError, match="no order"):
        best_order(np.zeros(4), np.array([1, 0, 0, 1], bool), np.zeros(4, bool), [1, 1])


def test_steps_are_tied_where_a_swap_is_within_the_error():
    values = np.array([0.0, 10.0, 9.0, 15.0])
    sound, nothing = np.ones(4, bool), np.zeros(4, bool)
    assert swappable(values, np.full(4, 0.6), sound, nothing, [1, 1], (0, 1)) == {0}
    assert swappable(values, np.full(4, 0.4), sound, nothing, [1, 1], (0, 1)) == set()
    alone = np.array([1, 1, 0, 1], bool)
    assert swappable(values, np.full(4, 0.6), alone, nothing, [1, 1], (0, 1)) == set()


def test_a_swap_costs_the_difference_of_the_areas():
    # by hand: weights 3 and 2, scores 1 before both, 5 after the first, 4 after the second alone
    base, early, late = swap(3.0, 2.0)
    assert base * 1 + early * 5 - late * 4 == (1 * 3 + 5 * 2) - (1 * 2 + 4 * 3)
