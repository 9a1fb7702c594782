"""The Shapley value of each change: its share of the total gain, averaged over all orders.

The game: a coalition of changes is worth the best value of any allowed combination within it. So
one that cannot be made (for want of a need, or since two exclude each other) is worth what can be
made of it, and a change that does harm need not be made. For needs alone this is the conjunctive
approach to games with permission structures (Gilles, Owen and van den Brink, Int. J. Game Theory
20 (1992) 277; from memory). On it stands the value of Shapley (Contributions to the Theory of Games
II (1953) 307): the mean, over all orders, of what each change adds when it comes. It alone shares
out the whole, gives nothing to a change that adds nothing, and the same to two that always add the
same. Orders are not confined to those that respect needs, as in Faigle and Kern (Int. J. Game
Theory 21 (1992) 249; from memory): there, a change that opens the way for another gets nothing of
what it opens.

Coalitions are the bits of a number: the values of n changes are an array of 2**n.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from tailrace.quantities.arrays import FloatArray


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
    best = within(values)
    count = len(best).bit_length() - 1
    coalitions = np.arange(len(best))
    sizes = np.array([int(one).bit_count() for one in coalitions])
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
