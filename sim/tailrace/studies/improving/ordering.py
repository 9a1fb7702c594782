"""Shapley values and the best order, over all subsets of the changes.

The Shapley value of a change is its share of the total gain. The game: a coalition of changes is
worth the best value of any allowed combination within it. So one that cannot be made (a need is
missing, or two exclude each other) is worth what can be made of it, and a change that does harm
need not be made. For needs alone this is the conjunctive approach to games with permission
structures (Gilles, Owen and van den Brink, Int. J. Game Theory 20 (1992) 277; from memory). On it
stands the value of Shapley (Contributions to the Theory of Games II (1953) 307): the mean, over
all orders, of what each change adds when it comes. It alone shares out the whole, gives nothing to
a change that adds nothing, and the same to two that always add the same. Orders are not confined
to those that respect needs, as in Faigle and Kern (Int. J. Game Theory 21 (1992) 249; from
memory): there, a change that opens the way for another gets nothing of what it opens.

Coalitions are the bits of a number: the values of n changes are an array of 2**n.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from tailrace.quantities.arrays import BoolArray, FloatArray

DIGITS = 10
"""Of an order, written to the base of 32, in one number: less than 2^53."""


def within(values: FloatArray) -> FloatArray:
    """The best value of any coalition within each coalition.

    Parameters
    ----------
    values : (2**changes,) array, any unit
        Minus infinity, or NaN, where a combination is not allowed.

    Returns
    -------
    (2**changes,) array, any unit
    """
    best = np.where(np.isnan(values), -np.inf, values)
    for bit in range(len(best).bit_length() - 1):
        halves = best.reshape(-1, 2, 1 << bit)
        np.maximum(halves[:, 0], halves[:, 1], out=halves[:, 1])
    return best


def shapley_values(values: FloatArray) -> FloatArray:
    """The Shapley value of each change.

    Parameters
    ----------
    values : (2**changes,) array, any unit
        As of ``within``; finite for the empty coalition.

    Returns
    -------
    (changes,) array, any unit
        They add up to the best value of all less that of the empty coalition.
    """
    return shapley_values_of_game(within(values))


def shapley_values_of_game(best: FloatArray) -> FloatArray:
    """The Shapley value of each member of a game, whose coalitions are worth ``best``.

    Both as of ``shapley_values``.
    """
    count = len(best).bit_length() - 1
    coalitions = np.arange(len(best))
    sizes = np.bitwise_count(coalitions)
    weights = np.array([1 / (count * math.comb(count - 1, size)) for size in range(count)])
    found = []
    for bit in range(count):
        without = coalitions[(coalitions >> bit) & 1 == 0]
        added = best[without | 1 << bit] - best[without]
        found.append(math.fsum(weights[sizes[without]] * added))
    return np.array(found)


def sampled_shapley_values(
    value: Callable[[int], float], members: Sequence[int], samples: int, seed: int
) -> tuple[dict[int, float], dict[int, float]]:
    """Shapley values from random orders, for too many changes to look at all coalitions.

    Parameters
    ----------
    value : callable
        ``value(coalition)``: the best of what was found within it, float, any unit.
    members : sequence of int
        The bits that are shared among.
    samples, seed : int
        Number of orders, and the seed that they follow from.

    Returns
    -------
    share, error : dict of int to float, any unit
        By bit; the error is the standard error of the mean. The shares add up to the value of all
        members less that of none.
    """
    added: dict[int, list[float]] = {bit: [] for bit in members}
    for order in orders(members, samples, seed):
        coalition, before = 0, value(0)
        for bit in order:
            coalition |= 1 << bit
            after = value(coalition)
            added[bit].append(after - before)
            before = after
    share = {bit: math.fsum(one) / samples for bit, one in added.items()}
    error = {bit: float(np.std(one, ddof=1)) / math.sqrt(samples) for bit, one in added.items()}
    return share, error


def orders(members: Sequence[int], samples: int, seed: int) -> list[tuple[int, ...]]:
    """Random orders of bits, the same for the same seed."""
    generator = np.random.default_rng(seed)
    return [tuple(generator.permutation(list(members)).tolist()) for _ in range(samples)]


def best_order(
    values: FloatArray, allowed: BoolArray, broken: BoolArray, weights: Sequence[float]
) -> tuple[int, ...]:
    """Find the order with the greatest area under the staircase, exactly.

    The gain that stands before each step is held for as long as that step takes: one unit a step,
    or what the step costs in money or in time. So what brings much comes early, and what brings
    much for its price. Orders in which fewer steps break a constraint come first whatever they
    bring. Found by dynamic programming over subsets: the best way to a subset is the best way to
    one that lacks its last member, and then that member (Bellman; Held and Karp, J. SIAM 10 (1962)
    196; from memory), 2**n n steps instead of n!, up to 2 DIGITS members. Raises ValueError where
    no order leads through allowed subsets.

    Parameters
    ----------
    values : (2**members,) array, any unit
        Score after each subset, the bits of its number, of the members; greater is better.
    allowed, broken : (2**members,) array of bool, one or zero
        Whether a subset can stand by itself, and whether it breaks a constraint.
    weights : (members,) array, any unit
        How long each step takes.

    Returns
    -------
    tuple of int
        Bits, in the order of the steps. Of orders that are equal, the one with the greater plain
        area, then the one that comes first by number.
    """
    reached = np.asarray(allowed, dtype=bool) & ~np.isnan(values)
    gains, everyone = np.where(reached, values - values[0], np.nan), np.arange(len(values))
    gains[0] = 0.0
    # constraints broken, minus the area, minus the plain area, then the bits: least is best
    ways = np.full((5, len(values)), np.inf)
    ways[:, 0] = 0.0
    for size in range(1, len(weights) + 1):
        subsets = everyone[(np.bitwise_count(everyone) == size) & reached]
        half, place = divmod(size - 1, DIGITS)
        for bit, weight in enumerate(weights):
            having = subsets[(subsets >> bit & 1) == 1]
            before = having & ~(1 << bit)
            extended = ways[:, before]
            extended[0] += np.asarray(broken, dtype=float)[having]
            extended[1] -= gains[before] * float(weight)
            extended[2] -= gains[before]
            extended[3 + half] += (bit + 1) * 32.0 ** (DIGITS - 1 - place)
            found = np.isfinite(extended[0])
            ways[:, having[found]] = _least(ways[:, having[found]], extended[:, found])
    if not np.isfinite(ways[0, -1]):
        raise ValueError("no order leads through combinations that are allowed")
    return tuple(_digits(ways[3:, -1])[: len(weights)])


def _digits(halves: FloatArray) -> list[int]:
    """The bits of an order from the two numbers that it is written as."""
    powers = [32 ** (DIGITS - 1 - place) for place in range(DIGITS)]
    return [int(half) // power % 32 - 1 for half in halves for power in powers]


def _least(one: FloatArray, other: FloatArray) -> FloatArray:
    """Of each two columns the one that comes first, row by row."""
    first = np.zeros(one.shape[1], dtype=bool)
    alike = ~first
    for row, new in zip(one, other, strict=True):
        first |= alike & (new < row)
        alike &= new == row
    return np.where(first, other, one)


def swappable(
    values: FloatArray,
    errors: FloatArray,
    allowed: BoolArray,
    broken: BoolArray,
    weights: Sequence[float],
    order: Sequence[int],
) -> set[int]:
    """Positions (from 0) of steps that could as well come after the next one.

    Parameters
    ----------
    values, allowed, broken, weights
        As of ``best_order``.
    errors : (2**members,) array, any unit
        Of the values; of two, the sum counts.
    order : sequence of int
    """
    found, before = set(), 0
    for position in range(len(order) - 1):
        one, other = order[position], order[position + 1]
        first, second = before | 1 << one, before | 1 << other
        base, early, late = swap(weights[one], weights[other])
        if allowed[second] and bool(broken[second]) == bool(broken[first]):
            apart = values[before] * base + values[first] * early - values[second] * late
            doubt = abs(base) * errors[before] + early * errors[first] + late * errors[second]
            if abs(apart) <= doubt:
                found.add(position)
        before = first
    return found


def swap(first: float, second: float) -> tuple[float, float, float]:
    """By how much the area falls when two neighbouring steps change places, as a sum of scores.

    Parameters
    ----------
    first, second : float, any unit
        How long each of the two takes.

    Returns
    -------
    tuple of three float, any unit
        Factors of the score before both, of that after the first alone, and (to be taken off) of
        that after the second alone.
    """
    if max(first, second) == 0:
        return 0.0, 1.0, 1.0
    return first - second, second, first
