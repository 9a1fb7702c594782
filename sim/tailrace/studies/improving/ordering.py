"""The order in which changes are best made, one step at a time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TypeAlias

from tailrace.quantities.arrays import BoolArray, FloatArray

Way: TypeAlias = tuple[int, float, float, tuple[int, ...]]
"""Steps so far: constraints broken, minus the area, minus the plain area, bits; least is best."""


def best_order(
    values: FloatArray, allowed: BoolArray, broken: BoolArray, weights: Sequence[float]
) -> tuple[int, ...]:
    """Find the order with the greatest area under the staircase, exactly.

    The gain that stands before each step is held for as long as that step takes: one unit a step,
    or what the step costs in money or in time. So what brings much comes early, and what brings
    much for its price. Orders in which fewer steps break a constraint come first whatever they
    bring. Found by dynamic programming over subsets: the best way to a subset is the best way to
    one that lacks its last member, and then that member (Bellman; Held and Karp, J. SIAM 10 (1962)
    196; from memory), 2**n n steps instead of n!. Raises ValueError where no order leads through
    allowed subsets.

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
    members, start = range(len(weights)), float(values[0])
    ways: dict[int, Way] = {0: (0, 0.0, 0.0, ())}
    for subset in range(1, len(values)):
        if not allowed[subset] or math.isnan(values[subset]):
            continue
        found = []
        for bit in members:
            before = subset & ~(1 << bit)
            if subset >> bit & 1 and before in ways:
                gain = float(values[before]) - start
                found.append(_longer(ways[before], bit, gain, weights[bit], broken[subset]))
        if found:
            ways[subset] = min(found)
    if len(values) - 1 not in ways:
        raise ValueError("no order leads through combinations that are allowed")
    return ways[len(values) - 1][3]


def _longer(way: Way, bit: int, gain: float, weight: float, broken: bool) -> Way:
    """A way made longer by a step; ``gain`` stands before it, for as long as ``weight``."""
    breaks, area, plain, bits = way
    return breaks + bool(broken), area - gain * float(weight), plain - gain, (*bits, bit)


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
