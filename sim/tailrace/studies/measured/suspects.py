"""Faults over their whole reach, before any is fitted: where to begin."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from tailrace.errors import AccuracyError, PartError
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.studies.measured.bench import matched
from tailrace.studies.measured.faults import Asked, Fault, Reach
from tailrace.studies.measured.problem import Side

SMALL = 0.1
"""Change of the variance at which faults are compared with each other."""
APART = 3.0
"""Where the next value is so many times the best one, or less, another is tried between: once a
fault does no more to the width, only the shape leads a search on."""
Looked: TypeAlias = tuple[FloatArray, FloatArray]
"""Delays, (measurements,) array, s, NaN where the fault makes of one what cannot be; and what is
left of all, (points,) array, 1."""


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
    def between(self) -> list[float]:
        """Values on either side of the best, where the next one is ``APART`` or more."""
        at, values = self.best, self.begins
        sides = [values[near : near + 2] for near in (at - 1, at) if 0 <= near < values.size - 1]
        return [float(np.sqrt(low * high)) for low, high in sides if high > APART * low]

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
    """Look at a fault over its reach, then more closely about the value that leaves least; None
    where no value brings it upon the measurements."""
    fault, reach, twins = asked
    looked, new = dict[float, Looked](), reach.begins
    while new.size:
        looked |= zip(new.tolist(), _looked(fault, new, sides), strict=True)
        known = {at: one for at, one in sorted(looked.items()) if np.isfinite(one[0]).all()}
        if not known:
            return None
        found = Suspect(
            fault=fault,
            reach=reach,
            twins=twins,
            begins=np.array(list(known)),
            delays=np.array([delays for delays, _ in known.values()]),
            left=np.array([left for _, left in known.values()]),
        )
        new = np.array([one for one in found.between if one not in looked])
    return found


def _looked(fault: Fault, values: FloatArray, sides: Sequence[Side]) -> list[Looked]:
    rows = []
    for side in sides:
        cases = values if side.bench.concerned(fault.where) else values[:1]
        matching = _matches(side, fault, cases)
        rows.append(matching if len(matching) == values.size else matching * values.size)
    return [
        (np.array([delay for delay, _ in row]), np.concatenate([one for _, one in row]))
        for row in zip(*rows, strict=True)
    ]


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
