"""Journeys that begin alike, simulated like a tree: what they share is simulated once.

A combination that differs from another only behind the column has the same band at the column's
outlet. A stem is the beginning of a journey up to some part; all stems of one length are marched
side by side, in blocks of lanes, finely and coarsely, and only the last part is left to each
journey. The grids are those of ``tailrace.journey``: what comes out differs from a journey alone
only by how its lanes were put together, far below the discretisation error.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property, partial
from typing import Any, TypeAlias

import numpy as np

from tailrace.errors import AccuracyError, BudgetError
from tailrace.journey.evaluation import OwnPeak, column_alone, columns_met, evaluate
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.plan import first_pulse
from tailrace.journey.propagation import Stage, passed, spread
from tailrace.journey.result import Result
from tailrace.journey.textbook import textbook, textbook_metric
from tailrace.measures.registry import (
    APEX,
    CAPACITY,
    EXTRA_COLUMN,
    HEIGHT,
    PLATES,
    PLATES_OWN,
    TAILING,
    VARIANCE,
    WIDTH,
)
from tailrace.parts.base import Passage, Passages
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution
from tailrace.studies.batch import LANES, Batch, Done, Each, Metrics, gathered, not_computed
from tailrace.studies.cases import joined, kin, kinship
from tailrace.studies.lanes import metrics_of

GROUPS = ("recorded", "numerical_error", "column_alone", "signal")
WHOLE = ("pressure/highest", "pressure/highest_at_cell", "computed", "warnings")
"""Metrics that are read off each journey: by solute, and of the whole instrument."""
MANY = 1 << 14
"""Journeys above which of the metrics only those are kept that are FOLLOWED."""
FOLLOWED = (
    *(APEX, HEIGHT, WIDTH, PLATES, PLATES_OWN, TAILING, VARIANCE),
    *(EXTRA_COLUMN, CAPACITY),
)
LEAF_LANES = 48
"""Of one block of last parts, which are cheap: a longer one saves calls."""
Stem: TypeAlias = tuple[int, ...]
"""The beginning of a journey, as the numbers of its passages."""


@dataclass(frozen=True)
class Branches(Batch):
    """A batch whose journeys share beginnings. Equal passages must be the same objects."""

    @cached_property
    def passages(self) -> dict[int, Passage]:
        """Every part with its stream, by its number; the stream spread over the solutes."""
        found = {id(pair): pair for one in self.itineraries for pair in one.passages}
        return {
            number: (part, stream.over(self.solutes))
            for number, (part, stream) in enumerate(found.values())
        }

    @property
    def solutes(self) -> int:
        """Lanes of one journey."""
        return len(self.itineraries[0].lanes)

    @cached_property
    def ways(self) -> tuple[Stem, ...]:
        """Each journey as the numbers of its passages."""
        numbers: dict[int, int] = {}
        for one in self.itineraries:
            for pair in one.passages:
                numbers.setdefault(id(pair), len(numbers))
        return tuple(tuple(numbers[id(pair)] for pair in one.passages) for one in self.itineraries)

    @cached_property
    def blocks(self) -> tuple[Sequence[int], ...]:
        """Journeys whose last parts are marched together; they have the same number of parts."""
        alike = [sorted(cases) for cases in kin(self.itineraries)]
        size = max(1, LEAF_LANES // self.solutes)
        return tuple(
            tuple(cases[at : at + size])
            for cases in sorted(alike, key=lambda cases: self._parts(cases[0]))
            for at in range(0, len(cases), size)
        )

    def _parts(self, case: int) -> int:
        return len(self.itineraries[case].passages)

    @cached_property
    def stems(self) -> tuple[tuple[tuple[Stem, ...], ...], ...]:
        """By length from 1 on: beginnings that go on, in blocks that march together.

        A first passage alone is still told apart by the second, which its grid asks for.
        """
        longest = max(len(way) for way in self.ways)
        return tuple(self._stems(length) for length in range(1, longest))

    def _stems(self, length: int) -> tuple[tuple[Stem, ...], ...]:
        found = dict.fromkeys(stem(way, length) for way in self.ways if len(way) > length)
        alike: dict[Hashable, list[Stem]] = {}
        for one in found:
            alike.setdefault(kinship(self.alone(one, length)), []).append(one)
        size = max(1, LANES // self.solutes)
        blocks: list[tuple[Stem, ...]] = []
        for stems in alike.values():
            stems = sorted(stems, key=lambda one: (self._demand(one[length - 1]), one))
            blocks += [tuple(stems[at : at + size]) for at in range(0, len(stems), size)]
        return tuple(blocks)

    def alone(self, way: Stem, length: int) -> Itinerary:
        """An itinerary of the last passage of a stem; of the first and second for the injection."""
        first, numbers = self.itineraries[0], way[:2] if length == 1 else way[-1:]
        return Itinerary(
            lanes=first.lanes,
            passages=tuple(self.passages[number] for number in numbers),
            resolution=first.resolution,
        )

    def flat(self) -> Batch:
        """The same journeys, each from its beginning."""
        keep = _kept if len(self.itineraries) <= MANY else _needed
        return Batch(self.name, self.itineraries, self.where, more=_sums_of, keep=keep)

    def shared(self, left: Sequence[int]) -> int:
        """Number of stems, which are counted beside the journeys."""
        return sum(len(block) for blocks in self.stems for block in blocks) if left else 0

    def travel(self, left: Sequence[int], each: Each) -> Iterator[Done]:
        """Metrics of the blocks that are left, from the shortest journeys to the longest."""
        read, reached = Reader(self), dict[Stem, Reached]()
        for length in range(1, len(self.stems) + 2):
            ending = {
                one: (one, _behind([self.ways[case] for case in self.blocks[one]], length, reached))
                for one in left
                if len(self.ways[self.blocks[one][0]]) == length
            }
            for index, metrics in each(read.block, ending.items()):
                yield Done(len(self.blocks[index]), index, metrics)
            stems = self.stems[length - 1] if length <= len(self.stems) else ()
            given = {at: (one, _behind(one, length, reached)) for at, one in enumerate(stems)}
            ahead: dict[Stem, Reached] = {}
            for _, ends in each(partial(_further, self, length), given.items()):
                ahead |= ends
                yield Done(len(ends))
            reached = ahead

    def _demand(self, number: int) -> tuple[float, float]:
        part, stream = self.passages[number]
        fourier = float(np.min(np.nan_to_num(part.fourier_number(stream))))
        return fourier, float(np.max(part.residence(stream)))


@dataclass(frozen=True)
class Reached:
    """What stands at the end of a stem: its stages without their bands, and the last band.

    Each finely and coarsely; nothing but the reason where it could not be computed.
    """

    stages: tuple[tuple[Stage, ...], tuple[Stage, ...]] = ((), ())
    bands: tuple[Band, ...] = ()
    failure: str = ""


def stem(way: Stem, length: int) -> Stem:
    """The beginning of a way; the injection alone goes with the part behind it."""
    return way[: max(length, 2)]


def _behind(
    block: Sequence[Stem], length: int, reached: Mapping[Stem, Reached]
) -> dict[Stem, Reached]:
    """Of what is reached only what a block goes on from: all that a worker has to be sent."""
    return {stem(one, length - 1): reached[stem(one, length - 1)] for one in block if length > 1}


def _further(
    branches: Branches, length: int, given: tuple[Sequence[Stem], Mapping[Stem, Reached]]
) -> dict[Stem, Reached]:
    return marched(branches, given[0], length, given[1])


def marched(
    branches: Branches, block: Sequence[Stem], length: int, reached: Mapping[Stem, Reached]
) -> dict[Stem, Reached]:
    """March the last passage of every stem of a block.

    Parameters
    ----------
    block : sequence of tuple of int
        Stems of the same length, kin in their last passage.
    length : int, 1
        Passages of each.
    reached : dict of tuple to Reached
        The stems one passage shorter; not read for the injection.
    """
    before = {one: reached[stem(one, length - 1)] if length > 1 else Reached() for one in block}
    found = {one: start for one, start in before.items() if start.failure}
    sound = [one for one in block if one not in found]
    if not sound:
        return found
    try:
        return found | _together(branches, sound, length, [before[one] for one in sound])
    except (BudgetError, AccuracyError) as error:
        if len(sound) == 1:
            return found | {sound[0]: Reached(failure=str(error))}
        for one in sound:
            found |= marched(branches, [one], length, reached)
        return found


def _together(
    branches: Branches, stems: Sequence[Stem], length: int, before: Sequence[Reached]
) -> dict[Stem, Reached]:
    whole = joined([branches.alone(one, length) for one in stems])
    each, levels = branches.solutes, (whole.resolution, whole.resolution.coarser())
    behind = [
        _passed(whole.passages, [one.bands[manner] for one in before if one.bands], level)
        for manner, level in enumerate(levels)
    ]
    found = {}
    for at, (one, start) in enumerate(zip(stems, before, strict=True)):
        pick = slice(at * each, (at + 1) * each)
        (fine, band), (coarse, rough) = behind
        found[one] = Reached(
            stages=(
                (*start.stages[0], fine.picked(pick)),
                (*start.stages[1], coarse.picked(pick)),
            ),
            bands=(band.picked(pick), rough.picked(pick)),
        )
    return found


def _passed(passages: Passages, before: Sequence[Band], level: Resolution) -> tuple[Stage, Band]:
    """What stands behind the first passage: of all lanes, the band apart from its stage."""
    band = Band.joined(before) if before else first_pulse(passages, level)
    _, stage = passed(passages[0], band, level)
    assert stage.band is not None
    return stage.slim(passages[0][0]), stage.band


class Reader:
    """Reads blocks; remembers each column's own peak."""

    def __init__(self, branches: Branches) -> None:
        self._branches = branches
        self._own: dict[Hashable, dict[str, FloatArray]] = {}

    def block(self, given: tuple[int, Mapping[Stem, Reached]]) -> Metrics:
        """Metrics of one block: its number, and the stems before its last parts.

        Beside those of ``tailrace.studies.lanes.metrics_of`` ``textbook/mean`` s and
        ``textbook/variance`` s^2, sums over all parts, and ``setting/gradient_time`` s.
        """
        index, reached = given
        cases = self._branches.blocks[index]
        ways = [self._branches.ways[case] for case in cases]
        ends = marched(self._branches, ways, len(ways[0]), reached)
        sound = [at for at, way in enumerate(ways) if not ends[way].failure]
        found = []
        if sound:
            picked = [cases[at] for at in sound]
            found.append((self._metrics(picked, [ends[ways[at]] for at in sound]), sound))
        for at, way in enumerate(ways):
            if ends[way].failure:
                found.append((not_computed(ends[way].failure), [at]))
        return gathered([metrics for metrics, _ in found], [places for _, places in found])

    def _metrics(self, cases: Sequence[int], ends: Sequence[Reached]) -> Metrics:
        itineraries = [self._branches.itineraries[case] for case in cases]
        whole, shape = joined(itineraries), (len(cases), self._branches.solutes)
        fine, coarse = (_joined(ends, manner) for manner in (0, 1))

        def own(passages: Passages, means: Sequence[FloatArray], resolution: Resolution) -> OwnPeak:
            return self._columns(cases, means, resolution), None

        result = evaluate(whole, fine, coarse, own)
        computed = metrics_of(result, itineraries, whole)
        metrics = {name: values for name, values in computed.items() if _kept(name)}
        return metrics | textbook_sums(whole, shape)

    def _columns(
        self, cases: Sequence[int], means: Sequence[FloatArray], resolution: Resolution
    ) -> dict[str, FloatArray] | None:
        """Metrics of the columns' own peak of every case; equal columns are computed once."""
        each, found = self._branches.solutes, []
        for at, case in enumerate(cases):
            way = self._branches.ways[case]
            passages = [self._branches.passages[number] for number in way]
            added = [np.asarray(one)[at * each : (at + 1) * each] for one in means]
            columns = [k for k, (part, _) in enumerate(passages) if part.separates]
            if not columns:
                return None
            key = (
                tuple(way[k] for k in columns),
                *(
                    elsewhere.tobytes()
                    for (part, _), elsewhere in columns_met(passages, added)
                    if part.focuses
                ),
            )
            if key not in self._own:
                self._own[key] = column_alone(passages, added, resolution)[0] or {}
            found.append(self._own[key])
        return {name: np.concatenate([one[name] for one in found]) for name in found[0]}


def _joined(ends: Sequence[Reached], manner: int) -> list[Stage]:
    """The stages of several journeys side by side; the last with its band."""
    *inner, last = (
        Stage.joined(stages) for stages in zip(*(one.stages[manner] for one in ends), strict=True)
    )
    return [*inner, replace(last, band=Band.joined([one.bands[manner] for one in ends]))]


def textbook_sums(whole: Itinerary, shape: tuple[int, ...]) -> Metrics:
    """What sums over all parts say of each case of a joined journey, in the given shape."""
    peak = textbook(spread(whole))
    sums = {
        "textbook/mean": peak.mean,
        "textbook/variance": peak.variance,
        f"textbook/{PLATES_OWN}": textbook_metric(PLATES_OWN, peak),
        f"textbook/{EXTRA_COLUMN}": textbook_metric(EXTRA_COLUMN, peak),
    }
    if peak.gradient_time is not None:
        sums["setting/gradient_time"] = np.broadcast_to(peak.gradient_time, peak.mean.shape)
    return {name: np.reshape(values, shape) for name, values in sums.items()}


def _sums_of(result: Result, itineraries: Sequence[Itinerary]) -> Metrics:
    return textbook_sums(joined(itineraries), (len(itineraries), -1))


def _kept(name: str) -> bool:
    """Whether a metric is read; instruments differ in their parts, whose numbers are not."""
    return name.partition("/")[0] in GROUPS or name in WHOLE


def _needed(name: str) -> bool:
    """The same where there are MANY."""
    group, _, own = name.partition("/")
    return _kept(name) and (own in FOLLOWED or group not in GROUPS[:3])


def interned(itineraries: Iterable[Itinerary]) -> list[Itinerary]:
    """The same journeys, with passages that are equal made the same objects."""
    known: dict[Hashable, Passage] = {}

    def one(pair: Passage) -> Passage:
        return known.setdefault(tuple(map(_numbers, pair)), pair)

    return [
        replace(itinerary, passages=tuple(map(one, itinerary.passages)))
        for itinerary in itineraries
    ]


def _numbers(record: Any) -> Hashable:
    """All that a part or a stream is, as something that can be compared and hashed."""
    values = (getattr(record, field.name) for field in fields(record))
    plain = (one.tobytes() if isinstance(one, np.ndarray) else repr(one) for one in values)
    return (type(record).__name__, *plain)
