"""Many journeys whose parts are chosen from few: an instrument is one version of every part."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, overload

import numpy as np

from tailrace.journey.itinerary import Itinerary
from tailrace.parts.base import Passage
from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.studies.cases import Many, kind_of, same, without_numbers


@dataclass(frozen=True, eq=False)
class Chosen(Many):
    """A sequence of itineraries that are made when they are asked for.

    Parameters
    ----------
    base : Itinerary
    versions : tuple of tuple of Passage
        At each place on the path.
    which : (journeys, places) array of int, 1
        The version that each journey has.
    """

    base: Itinerary
    versions: tuple[tuple[Passage, ...], ...]
    which: IntArray

    def __len__(self) -> int:
        """Number of journeys."""
        return len(self.which)

    @overload
    def __getitem__(self, case: int) -> Itinerary: ...
    @overload
    def __getitem__(self, case: slice) -> "Chosen": ...
    def __getitem__(self, case: int | slice) -> "Itinerary | Chosen":
        """One journey, or a slice of them."""
        if isinstance(case, slice):
            return self.picked(np.arange(len(self))[case])
        rows = zip(self.versions, self.which[case].tolist(), strict=True)
        return replace(self.base, passages=tuple(known[at] for known, at in rows))

    def picked(self, cases: Sequence[int] | IntArray) -> "Chosen":
        """Some of the journeys, of the same versions."""
        chosen = Chosen(self.base, self.versions, self.which[np.asarray(cases, dtype=int)])
        chosen.__dict__["_numbers"] = self._numbers
        return chosen

    @cached_property
    def _numbers(self) -> list[tuple[dict[str, FloatArray], dict[str, FloatArray]]]:
        """At each place the numbers of part and stream, (versions, lanes) arrays."""
        lanes = len(self.base.lanes)
        return [
            (
                _table([part for part, _ in known], lanes),
                _table([stream for _, stream in known], lanes),
            )
            for known in self.versions
        ]

    def joined(self) -> Itinerary:
        """One journey for all, every number that may differ a (lanes,) array."""
        passages = []
        for known, numbers, rows in zip(self.versions, self._numbers, self.which.T, strict=True):
            part, stream = known[int(rows[0])]
            passages.append(
                tuple(
                    without_numbers(
                        record, {name: one[rows].reshape(-1) for name, one in of.items()}
                    )
                    for record, of in zip((part, stream), numbers, strict=True)
                )
            )
        solutes = len(self.base.lanes)
        each = np.arange(solutes)
        return replace(
            self.base,
            lanes=self.base.lanes * len(self),
            passages=tuple(passages),
            pressure_limit=float("nan"),
            versions=tuple((solutes * row[:, None] + each).ravel() for row in self.which.T),
            solutes=solutes,
        )

    def kin(self) -> list[Sequence[int]]:
        """Journeys that can be lanes of one, in the order of the first of each; within, those that
        begin alike side by side."""
        kinds = np.empty_like(self.which)
        for place, known in enumerate(self.versions):
            numbers: dict[Any, int] = {}
            of = [numbers.setdefault(kind_of(part), len(numbers)) for part, _ in known]
            kinds[:, place] = np.array(of)[self.which[:, place]]
        _, first, group = np.unique(kinds, axis=0, return_index=True, return_inverse=True)
        order, group = np.lexsort(self.which.T[::-1]), group.reshape(-1)
        return [order[group[order] == one].tolist() for one in np.argsort(first)]

    @property
    def content(self) -> tuple[list[Itinerary], list[bytes]]:
        """All that the journeys are made of, for a fingerprint."""
        longest = max(len(known) for known in self.versions)
        some = [
            replace(
                self.base, passages=tuple(known[min(at, len(known) - 1)] for known in self.versions)
            )
            for at in range(longest)
        ]
        return some, [self.which.tobytes()]


def against_all(itineraries: Sequence[Itinerary]) -> str:
    """Why not all of many journeys are products of transfer functions: a clause; else empty."""
    if not isinstance(itineraries, Chosen):
        return "they are built one by one"
    reasons = (
        part.no_transfer(stream)
        for known in itineraries.versions
        for part, stream in known
        if not part.behind
    )
    return next((one for one in reasons if one), "")


def _table(records: Sequence[Any], lanes: int) -> dict[str, FloatArray]:
    """Numbers of the versions of a part or stream; those that cannot be lanes left out."""
    return {
        field.name: np.array(
            [np.broadcast_to(getattr(one, field.name), (lanes,)) for one in records], dtype=float
        )
        for field in fields(records[0])
        if not any(same(field.name, getattr(one, field.name)) for one in records)
    }
