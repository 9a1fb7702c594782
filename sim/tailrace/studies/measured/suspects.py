"""Faults over their whole reach, before any is fitted: where to begin, which are alike."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tailrace.errors import AccuracyError
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.studies.measured.bench import matched, signals
from tailrace.studies.measured.faults import Fault, Reach
from tailrace.studies.measured.problem import Problem, Side

if TYPE_CHECKING:
    from tailrace.studies.measured.trying import Tried

SMALL = 0.1
"""Change of the variance at which faults are compared with each other."""
SEEN = 3.0
"""Distance of two curves over the noise, above which they are told apart."""


@dataclass(frozen=True, kw_only=True)
class Suspect:
    """A fault that shows, everything else being as the scenario has it.

    Parameters
    ----------
    twins : tuple of Fault
        Others that do just the same to every measurement.
    begins : (values,) array, SI unit of the field
    delays : (values, measurements) array, s
        That match them.
    left : (values, points) array, 1
        What they leave of all measurements, over the noise.
    """

    fault: Fault
    reach: Reach
    twins: tuple[Fault, ...]
    begins: FloatArray
    delays: FloatArray
    left: FloatArray

    @property
    def best(self) -> int:
        """Which value leaves least."""
        return int(np.argmin(np.sum(np.square(self.left), axis=1)))

    @property
    def small(self) -> list[int]:
        """Values that change the variance little: up and down, where there are such."""
        changes = np.array([self.reach.at(one) for one in self.begins])
        found = []
        for sign in (1, -1):
            side = np.flatnonzero(sign * changes > 0)
            if side.size:
                found.append(int(side[np.argmin(np.abs(np.log(sign * changes[side] / SMALL)))]))
        return found


def suspect(asked: tuple[Fault, Reach, tuple[Fault, ...]], sides: Sequence[Side]) -> Suspect | None:
    """Look at a fault over its reach; None where no value brings it upon the measurements."""
    fault, reach, twins = asked
    begins = reach.begins
    delays, rows = np.full((begins.size, len(sides)), np.nan), list[list[FloatArray]]()
    for at, side in enumerate(sides):
        cases = begins if side.bench.concerned(fault.where) else begins[:1]
        bands = signals([side.bench.itinerary([fault.where], [one]) for one in cases.tolist()])
        made = [_matched(side, bands.lane(row)) for row in range(len(cases))]
        made = made if len(made) == begins.size else made * begins.size
        delays[:, at] = [delay for delay, _ in made]
        rows.append([one for _, one in made])
    left = np.array([np.concatenate(row) for row in zip(*rows, strict=True)])
    kept = np.isfinite(delays).all(axis=1)
    if not kept.any():
        return None
    return Suspect(
        fault=fault,
        reach=reach,
        twins=twins,
        begins=begins[kept],
        delays=delays[kept],
        left=left[kept],
    )


def _matched(side: Side, band: Band) -> tuple[float, FloatArray]:
    try:
        delay = matched(side.bench, band).delay
        return delay, side.left(band, delay)
    except AccuracyError:
        return float("nan"), np.zeros(side.size)


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


def partners(first: "Tried", suspects: Sequence[Suspect], none: "Tried") -> list[Pair]:
    """Every other fault beside one that was fitted."""
    (own,) = first.suspects
    points = sum(one.size for one in first.problem.sides)
    left = first.problem.residuals(first.optimum.values)[:points]
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
        band = signals([side.bench.itinerary(where, values.tolist())]).lane(0)
        rows.append(side.left(band, float(delay)))
    return np.concatenate(rows)


def alike(suspects: Sequence[Suspect], none: "Tried") -> FloatArray:
    """Which faults cannot be told from each other at ``SMALL``: 1 where so, (n, n) array."""
    points = sum(one.size for one in none.problem.sides)
    left = none.problem.residuals(none.optimum.values)[:points]
    taken = np.linalg.qr(none.optimum.jacobian[:points])[0]
    changes = np.array([one.left[one.small[0]] - left for one in suspects])
    changes = changes - (changes @ taken) @ taken.T
    sizes = np.sqrt(np.sum(np.square(changes), axis=1))
    cosines = changes @ changes.T / np.outer(sizes, sizes)
    apart = np.sqrt(np.clip(1 - np.square(cosines), 0, None)) * np.maximum.outer(sizes, sizes)
    return np.where((apart < SEEN) & (cosines > 0), 1.0, 0.0)
