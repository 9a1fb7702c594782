"""Faults over their whole reach, before any is fitted: where to begin."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tailrace.errors import AccuracyError, PartError
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.studies.measured.bench import matched
from tailrace.studies.measured.faults import Asked, Fault, Reach
from tailrace.studies.measured.problem import Side

SMALL = 0.1
"""Change of the variance at which faults are compared with each other."""


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


def suspect(asked: Asked, sides: Sequence[Side]) -> Suspect | None:
    """Look at a fault over its reach; None where no value brings it upon the measurements."""
    fault, reach, twins = asked
    begins = reach.begins
    delays, rows = np.full((begins.size, len(sides)), np.nan), list[list[FloatArray]]()
    for at, side in enumerate(sides):
        cases = begins if side.bench.concerned(fault.where) else begins[:1]
        matching = _matches(side, fault, cases)
        matching = matching if len(matching) == begins.size else matching * begins.size
        delays[:, at] = [delay for delay, _ in matching]
        rows.append([one for _, one in matching])
    left = np.array([np.concatenate(row) for row in zip(*rows, strict=True)])
    known = np.isfinite(delays).all(axis=1)
    if not known.any():
        return None
    return Suspect(
        fault=fault,
        reach=reach,
        twins=twins,
        begins=begins[known],
        delays=delays[known],
        left=left[known],
    )


def _matches(side: Side, fault: Fault, cases: FloatArray) -> list[tuple[float, FloatArray]]:
    """Delay and rest of each case; NaN where the fault makes of this measurement what cannot be."""
    try:
        bands = side.bench.signals([fault.where], cases[:, None].tolist())
    except (AccuracyError, PartError):
        if len(cases) == 1:
            return [(float("nan"), np.zeros(side.size))]
        return [one for case in cases for one in _matches(side, fault, np.array([case]))]
    return [_matched(side, bands.lane(row)) for row in range(len(cases))]


def _matched(side: Side, band: Band) -> tuple[float, FloatArray]:
    try:
        delay = matched(side.bench, band).delay
        return delay, side.left(band, delay)
    except AccuracyError:
        return float("nan"), np.zeros(side.size)
