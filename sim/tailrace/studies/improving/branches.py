"""Journeys that begin alike, travelled like a tree: what they share is travelled once.

A combination that differs from another only behind the column has the same band at the column's
outlet. A stem is the beginning of a journey up to some part; all stems of one length are marched
side by side, in blocks of lanes, finely and coarsely, and only the last part is left to each
journey. The grids are those of ``tailrace.journey``: what comes out differs from a journey alone
only by how its lanes were put together, far below the discretisation error.
"""

from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np

from tailrace.errors import AccuracyError, BudgetError
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.plan import first_pulse
from tailrace.journey.propagation import passed
from tailrace.signals.band import Band
from tailrace.studies.batch import LANES, Batch
from tailrace.studies.lanes import joined, kinship

LEAF_LANES = 48
"""Of one block of last parts, which are cheap: a longer one saves calls."""


@dataclass(frozen=True)
class Tree(Batch):
    """Journeys as a tree; all different, with the same solutes and resolution.

    Passages that are the same must be the same objects.
    """

    @cached_property
    def pairs(self) -> dict[int, tuple]:
        """Every (part, Stream) that is met, by its number, the stream spread over the solutes."""
        found = {id(pair): pair for one in self.itineraries for pair in one.passages}
        lanes = len(self.itineraries[0].lanes)
        return {
            number: (part, stream.over(lanes))
            for number, (part, stream) in enumerate(found.values())
        }

    @cached_property
    def ways(self) -> tuple[tuple[int, ...], ...]:
        """Each journey as the numbers of its passages."""
        numbers = {}
        for one in self.itineraries:
            for pair in one.passages:
                numbers.setdefault(id(pair), len(numbers))
        return tuple(tuple(numbers[id(pair)] for pair in one.passages) for one in self.itineraries)

    @cached_property
    def blocks(self) -> tuple[tuple[int, ...], ...]:
        """Journeys whose last parts are marched together; they have the same number of parts."""
        kin = {}
        for case, itinerary in enumerate(self.itineraries):
            kin.setdefault(kinship(itinerary), []).append(case)
        size = max(1, LEAF_LANES // len(self.itineraries[0].lanes))
        return tuple(
            tuple(cases[at : at + size])
            for cases in sorted(kin.values(), key=lambda cases: len(self.ways[cases[0]]))
            for at in range(0, len(cases), size)
        )

    def stems(self, length) -> list[tuple[tuple[int, ...], ...]]:
        """Beginnings of so many passages that go on, in blocks that march together.

        Parameters
        ----------
        length : int, 1
            Passages; a first one alone is still told apart by the second, which its grid asks.
        """
        found = dict.fromkeys(stem(way, length) for way in self.ways if len(way) > length)
        kin = {}
        for one in found:
            kin.setdefault(kinship(self.alone(one, length)), []).append(one)
        size = max(1, LANES // len(self.itineraries[0].lanes))
        blocks = []
        for stems in kin.values():
            stems = sorted(stems, key=lambda one: (self._demand(one[length - 1]), one))
            blocks += [tuple(stems[at : at + size]) for at in range(0, len(stems), size)]
        return blocks

    def alone(self, way, length) -> Itinerary:
        """An itinerary of the last passage of a stem; of the first and second for the injection."""
        passages = way[:2] if length == 1 else way[-1:]
        first = self.itineraries[0]
        return Itinerary(
            lanes=first.lanes,
            passages=tuple(self.pairs[number] for number in passages),
            resolution=first.resolution,
        )

    def _demand(self, number):
        part, stream = self.pairs[number]
        fourier = float(np.min(np.nan_to_num(part.fourier_number(stream))))
        return fourier, float(np.max(part.residence(stream)))


@dataclass(frozen=True)
class Reached:
    """What stands at the end of a stem.

    Parameters
    ----------
    fine, coarse : Band or None
        Of all solutes; None where it could not be computed.
    lost : (solutes,) array, 1
        What time windows have cut off so far, finely computed.
    failure : str
        Why it could not be computed.
    """

    fine: Band | None
    coarse: Band | None
    lost: np.ndarray
    failure: str = ""


def stem(way, length) -> tuple[int, ...]:
    """The beginning of a way; the injection alone goes with the part behind it."""
    return way[: max(length, 2)]


def marched(branches, block, length, reached) -> dict:
    """March the last passage of every stem of a block.

    Parameters
    ----------
    branches : Tree
    block : sequence of tuple of int
        Stems of the same length, kin in their last passage.
    length : int, 1
        Passages of each.
    reached : dict of tuple to Reached
        The stems one passage shorter; not read for the injection.

    Returns
    -------
    dict of tuple to Reached
    """
    before = {one: reached.get(stem(one, length - 1)) for one in block}
    broken = {one: held for one, held in before.items() if held and held.failure}
    sound = [one for one in block if one not in broken]
    if not sound:
        return broken
    try:
        return broken | _together(branches, sound, length, [before[one] for one in sound])
    except (BudgetError, AccuracyError) as error:
        if len(sound) == 1:
            lanes = len(branches.itineraries[0].lanes)
            return broken | {sound[0]: Reached(None, None, np.zeros(lanes), str(error))}
        for one in sound:
            broken |= marched(branches, [one], length, reached)
        return broken


def _together(branches, stems, length, before):
    whole = joined([branches.alone(one, length) for one in stems])
    passages = list(whole.passages)
    each = len(branches.itineraries[0].lanes)
    resolution, ends, lost = whole.resolution, [], None
    for manner, level in (("fine", resolution), ("coarse", resolution.coarser())):
        if length == 1:
            band = first_pulse(passages, level)
        else:
            band = Band.joined([getattr(held, manner) for held in before])
        _, stage = passed(passages[0], band, level)
        band, gone = stage.band, stage.lost
        lost = gone if lost is None else lost
        ends.append(apart(band, each))
    cut = [lost[at * each : (at + 1) * each] for at in range(len(stems))]
    if length > 1:
        cut = [gone + held.lost for gone, held in zip(cut, before, strict=True)]
    return {one: Reached(*held) for one, *held in zip(stems, *ends, cut, strict=True)}


def apart(band, each) -> list[Band]:
    """Bands of so many lanes (int) each, without the zeros at their ends."""
    return [band.picked(slice(first, first + each)) for first in range(0, band.lanes, each)]


def interned(itineraries) -> list[Itinerary]:
    """The same journeys, with passages that are equal made the same objects.

    Parameters
    ----------
    itineraries : sequence of Itinerary
    """
    known = {}

    def one(pair):
        return known.setdefault(tuple(map(_numbers, pair)), pair)

    return [
        replace(itinerary, passages=tuple(map(one, itinerary.passages)))
        for itinerary in itineraries
    ]


def _numbers(record):
    """All that a part or a stream is, as something that can be compared and hashed."""
    values = (getattr(record, field.name) for field in fields(record))
    plain = (one.tobytes() if isinstance(one, np.ndarray) else repr(one) for one in values)
    return (type(record).__name__, *plain)
