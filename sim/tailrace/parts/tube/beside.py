"""Tubes beside one that is bent or hands on a profile: what they do, to first order from it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, fields
from functools import partial

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Part, Passages
from tailrace.parts.tube.bent.expansion import Neighbours, neighbours
from tailrace.parts.tube.bent.lanes import ways
from tailrace.parts.tube.part import Tube
from tailrace.quantities.arrays import FloatArray, Number


@dataclass(frozen=True, eq=False)
class Expansions:
    """One for each lane of a path as it stands; None: a straight tube that is entered mixed."""

    lanes: tuple[Neighbours | None, ...]

    def of(self, lane: Number) -> Sequence[Neighbours | None]:
        """Of some lanes, by number."""
        return [self.lanes[int(one)] for one in np.atleast_1d(lane)]


@dataclass(frozen=True, kw_only=True)
class TubeBeside(Tube):
    """A tube that differs a little from another.

    Parameters
    ----------
    about : Expansions
        Of that other one.
    lane : (lanes,) array, 1
        Which of its lanes each of this one's is beside.
    """

    about: Expansions = field(default=Expansions(()))
    lane: Number = 0.0

    @property
    def manner(self) -> str:  # type: ignore[override]
        """Of its theory and transfer function."""
        return "beside"

    @staticmethod
    def of(tube: Part, cases: int, about: Expansions) -> "TubeBeside":
        """So many cases, side by side."""
        numbers = {one.name: getattr(tube, one.name) for one in fields(Tube)}
        lane = np.tile(np.arange(float(len(about.lanes))), cases)
        return TubeBeside(**numbers, about=about, lane=lane)


def beside(
    tube: Tube, stream: Stream, before: Passages, highest: FloatArray
) -> Callable[[Part, int], Part]:
    """As of ``tailrace.parts.Kind``; raises AccuracyError as of ``neighbours``."""
    chains = ways([*before, (tube, stream)], stream.lanes)
    found = [
        None if len(chain) == 1 and not chain[0].strength else neighbours(chain, float(last))
        for chain, last in zip(chains, highest, strict=True)
    ]
    return partial(TubeBeside.of, about=Expansions(tuple(found)))
