"""Faults beside each other: a second one to first order, and which do the same to a peak."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.studies.measured.faults import Fault
from tailrace.studies.measured.problem import Problem
from tailrace.studies.measured.suspects import Suspect
from tailrace.studies.measured.trying import Tried

SEEN = 3.0
"""Distance of two curves over the noise, above which they are told apart."""


@dataclass(frozen=True, kw_only=True)
class Pair:
    """A second fault beside one that was fitted, and what it would gain, to first order.

    ``begin``: values, SI units of their fields; ``delays``: of each measurement, s; ``gain``: fall
    of the sum of squares.
    """

    suspects: tuple[Suspect, Suspect]
    begin: FloatArray
    delays: FloatArray
    gain: float

    @property
    def name(self) -> frozenset[str]:
        """Which two, whatever their order."""
        return frozenset(one.fault.name for one in self.suspects)


def partners(first: Tried, suspects: Sequence[Suspect], none: Tried) -> list[Pair]:
    """Every other fault beside one that was fitted."""
    (own,) = first.suspects
    points = sum(one.size for one in first.problem.sides)
    left = first.optimum.left[:points]
    taken = np.linalg.qr(first.optimum.jacobian[:points])[0]
    found = []
    for other in suspects:
        if other.fault.name == own.fault.name:
            continue
        best: Pair | None = None
        for row in other.small:
            begin = np.array([first.values[0], other.begins[row]])
            delays = first.delays + other.delays[row] - none.delays
            change = _left(first.problem, (own.fault, other.fault), begin, delays) - left
            change = change - taken @ (taken.T @ change)
            size, along = float(change @ change), -float(change @ left)
            if along > 0 and along**2 / size > (best.gain if best else 0.0):
                best = Pair(suspects=(own, other), begin=begin, delays=delays, gain=along**2 / size)
        found += [best] if best else []
    return found


def _left(
    problem: Problem, faults: Sequence[Fault], values: FloatArray, delays: FloatArray
) -> FloatArray:
    where, rows = [one.where for one in faults], list[FloatArray]()
    for side, delay in zip(problem.sides, delays, strict=True):
        band = side.bench.signals(where, [values.tolist()])
        rows.append(side.left(band, float(delay)))
    return np.concatenate(rows)


def alike(suspects: Sequence[Suspect], none: Tried) -> FloatArray:
    """Which faults cannot be told from each other at ``SMALL``: 1 where so, (n, n) array."""
    points = sum(one.size for one in none.problem.sides)
    left = none.optimum.left[:points]
    taken = np.linalg.qr(none.optimum.jacobian[:points])[0]
    changes = np.array([one.left[one.small[0]] - left for one in suspects])
    changes = changes - (changes @ taken) @ taken.T
    sizes = np.sqrt(np.sum(np.square(changes), axis=1))
    cosines = changes @ changes.T / np.outer(sizes, sizes)
    apart = np.sqrt(np.clip(1 - np.square(cosines), 0, None)) * np.maximum.outer(sizes, sizes)
    return np.where((apart < SEEN) & (cosines > 0), 1.0, 0.0)
