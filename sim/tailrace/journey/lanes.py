"""Some lanes of passages, and lanes of which parts are alike: what each needs once.

Instruments that are put together from few versions of each part share what a version does. Their
lanes have frequencies in common, solute by solute, so that a factor is computed once for each
version, and a path is a product of rows that are looked up.
"""

from collections.abc import Callable, Iterable
from dataclasses import fields, replace
from typing import Any, TypeVar

import numpy as np

from tailrace.journey.itinerary import Itinerary
from tailrace.parts.base import ALIKE, Passage, Passages
from tailrace.quantities.arrays import ComplexArray, FloatArray, IntArray

Record = TypeVar("Record", bound=Any)


def picked(passages: Passages, rows: slice | IntArray) -> list[Passage]:
    """Some lanes of all passages."""

    def some(record: Record) -> Record:
        return replace(record, **{name: value[rows] for name, value in by_lane(record, lanes)})

    lanes = passages[0][1].lanes
    return [(some(part), some(stream)) for part, stream in passages]


def alone(itinerary: Itinerary, lane: int) -> Itinerary:
    """The journey of one of the lanes."""
    one = slice(lane, lane + 1)
    passages = tuple(picked(itinerary.passages, one))
    return replace(itinerary, lanes=itinerary.lanes[one], passages=passages)


def by_lane(record: Any, lanes: int) -> list[tuple[str, FloatArray]]:
    """Numbers of a part or stream of which each lane has its own."""
    values = [(one.name, getattr(record, one.name)) for one in fields(record)]
    return [
        (name, value) for name, value in values if name not in ALIKE and np.shape(value) == (lanes,)
    ]


class Alike(list[Passage]):
    """Passages of which many lanes are alike; parts that are entered mixed.

    Parameters
    ----------
    passages : iterable of (part, Stream)
        Every number of the streams a (lanes,) array.
    versions : sequence of (lanes,) array of int, 1
        Of each part: lanes of the same number are the same.
    solutes : int, 1
        Lanes of one instrument, which lie side by side.
    """

    def __init__(
        self, passages: Iterable[Passage], versions: Iterable[IntArray], solutes: int
    ) -> None:
        super().__init__(passages)
        self._versions, self._solutes = list(versions), solutes
        self._places = [
            np.unique(one, return_index=True, return_inverse=True) for one in self._versions
        ]
        self._few = [
            picked([pair], first)[0] for pair, (_, first, _) in zip(self, self._places, strict=True)
        ]

    def some(self, rows: IntArray) -> "Alike":
        """Some of the solutes, of all instruments: ``rows`` are their lanes, rising."""
        versions = [one[rows] for one in self._versions]
        return Alike(picked(self, rows), versions, np.unique(rows % self._solutes).size)

    def few(self, at: int) -> tuple[Passage, IntArray]:
        """A part in all its versions, and which of these each lane has."""
        return self._few[at], self._places[at][2]

    def factor(
        self, at: int, omega: FloatArray, of: Callable[[Passage, FloatArray], ComplexArray]
    ) -> ComplexArray:
        """What a part makes of frequencies, each version once where its lanes have the same ones;
        (lanes, frequencies) arrays, rad/s and 1."""
        rows, of_row = np.unique(omega[:, -1], return_inverse=True)
        # rows that are the same in the last frequency are the same: even, and of one length
        both = self._places[at][2] * len(rows) + of_row
        _, first, back = np.unique(both, return_index=True, return_inverse=True)
        if 2 * first.size > back.size:
            return of(self[at], omega)
        (few,) = picked([self[at]], first)
        return np.asarray(of(few, omega[first])[back])

    def widest(self, values: FloatArray) -> FloatArray:
        """The greatest of each solute, for all lanes of it. (…, lanes) array."""
        rows = values.reshape(*values.shape[:-1], -1, self._solutes)
        most = np.broadcast_to(rows.max(axis=-2, keepdims=True), rows.shape)
        return np.ascontiguousarray(most).reshape(values.shape)
