"""A batch: cases that travel in blocks of lanes, wherever the executor takes the blocks."""

import hashlib
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property, partial
from typing import Any, Protocol, TypeAlias, TypeVar

import numpy as np

from tailrace.errors import AccuracyError, BudgetError, PartError
from tailrace.journey import Result, travel
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.migration import by_products
from tailrace.journey.product import UNRESOLVED
from tailrace.measures.registry import HEIGHT
from tailrace.quantities.arrays import AnyArray, IntArray
from tailrace.studies.cases import Many, joined, kin
from tailrace.studies.lanes import metrics_of

LANES, ALIKE_LANES = 8, 32
"""Of one block, as a rule: enough for the processor's vector units, few enough that lanes which
need a fine grid hold up few others; more where all are much alike, which saves calls. Threads work
on blocks, so that their number changes nothing.
"""
PRODUCT, MARCH = "product", "march"
ENGINES = (PRODUCT, MARCH)
"""Ways of computing journeys: as products of transfer functions, which only linear paths are."""
UNCOMPUTED = (AccuracyError, BudgetError, PartError)
"""What spoils one case and not the study."""

Metrics: TypeAlias = dict[str, AnyArray]
"""By name, such as ``recorded/variance``, (cases, …) arrays; see ``lanes.metrics_of``."""
Block: TypeAlias = Sequence[Itinerary]
Key = TypeVar("Key", bound=Hashable)
Given = TypeVar("Given")
Made = TypeVar("Made")


class Each(Protocol):
    """What an executor does for a batch: ``each(work, items)``."""

    def __call__(
        self, work: Callable[[Given], Made], items: Iterable[tuple[Key, Given]]
    ) -> Iterator[tuple[Key, Made]]:
        """Yield the key of each item and what ``work`` makes of it, as they are done.

        ``work`` and the items have to be such as can be sent to another process.
        """
        ...


@dataclass(frozen=True)
class Done:
    """A step of a batch.

    Parameters
    ----------
    count : int
        Of cases, or of what they share, for whoever watches.
    block : int or None
        The block that is done with it.
    metrics : dict of str to array
        Of that block.
    """

    count: int
    block: int | None = None
    metrics: Metrics | None = None


@dataclass(frozen=True)
class Batch:
    """Cases that have not been travelled yet.

    A study whose cases share more than lanes derives from this class: it has to say what its
    ``blocks`` are, how it goes through them (``travel``) and how many steps that adds (``shared``).

    Parameters
    ----------
    name : str
        Will do for the name of a file; no other batch of a study has it.
    itineraries : sequence of Itinerary
        One a case, all with the same solutes.
    where : callable
        ``where(case)`` says in words which case it is.
    lanes : int
        Of one block, as a rule.
    more : callable, optional
        ``more(result, itineraries)`` reads further metrics, as ``lanes.metrics_of`` does.
    engine : str
        One of ENGINES.
    keep : callable, optional
        Whether a metric, by its name, is kept; all are without it.
    gather : callable, optional
        Whether one that is kept is held in memory, too, where blocks of products are stored.
    """

    name: str
    itineraries: Sequence[Itinerary]
    where: Callable[[int], str] = "case {}".format
    lanes: int = LANES
    more: Callable[[Result, Block], Metrics] | None = None
    engine: str = MARCH
    keep: Callable[[str], bool] | None = None
    gather: Callable[[str], bool] | None = None

    @cached_property
    def blocks(self) -> tuple[Sequence[int], ...]:
        """Cases that travel together.

        They do not depend on what is already done: neither do the numbers.
        """
        size = max(1, self.lanes // len(self.itineraries[0].lanes))
        if self.engine != PRODUCT:
            return _blocks(tuple(self.itineraries), self.lanes)
        return tuple(
            cases[at : at + size]
            for cases in kin(self.itineraries)
            for at in range(0, len(cases), size)
        )

    @cached_property
    def fingerprint(self) -> str:
        """SHA-256 of every number that the journeys start from."""
        digest = hashlib.sha256(repr((self.blocks, self.engine)).encode())
        itineraries: Sequence[Itinerary] = self.itineraries
        if isinstance(itineraries, Many):
            itineraries, rows = itineraries.content
            for row in rows:
                digest.update(row)
        for itinerary in itineraries:
            for record in (record for pair in itinerary.passages for record in pair):
                for field in fields(record):  # type: ignore[arg-type]
                    value = getattr(record, field.name)
                    digest.update(
                        value.tobytes() if isinstance(value, np.ndarray) else repr(value).encode()
                    )
            digest.update(repr((itinerary.resolution, itinerary.pressure_limit)).encode())
        return digest.hexdigest()

    def flat(self) -> "Batch":
        """The same cases without what they share beyond lanes."""
        return self

    def shared(self, left: Sequence[int]) -> int:
        """Steps that ``travel`` yields besides the cases of the blocks that are ``left``."""
        return 0

    def some(self, name: str, cases: IntArray, lanes: int) -> "Batch":
        """Some of the cases, to be marched in blocks of so many lanes."""
        flat, picked = self.flat(), self.picked(cases.tolist())
        where = {at: int(case) for at, case in enumerate(cases)}
        return replace(
            flat,
            name=f"{self.name}-{name}",
            itineraries=picked,
            lanes=lanes,
            where=lambda case: self.where(where[case]),
            engine=MARCH,
        )

    def picked(self, cases: Sequence[int]) -> Block:
        """The itineraries of some cases."""
        if isinstance(self.itineraries, Many):
            return self.itineraries.picked(cases)
        return [self.itineraries[case] for case in cases]

    def travel(self, left: Sequence[int], each: Each) -> Iterator[Done]:
        """Metrics of the blocks that are left (by number), as they are done."""
        blocks = ((index, self.picked(self.blocks[index])) for index in left)
        work = partial(block_metrics, more=self.more, engine=self.engine, keep=self.keep)
        for index, metrics in each(work, blocks):
            yield Done(len(self.blocks[index]), index, metrics)


def block_metrics(
    itineraries: Block,
    more: Callable[[Result, Block], Metrics] | None = None,
    engine: str = MARCH,
    keep: Callable[[str], bool] | None = None,
) -> Metrics:
    """Metrics of a block; where it cannot travel, each case goes alone, and says so if it fails.

    Parameters
    ----------
    itineraries : sequence of Itinerary
        Kin, as ``tailrace.studies.lanes.kinship`` says.
    more, engine, keep : optional
        As of ``Batch``.
    """
    whole = joined(itineraries)
    try:
        result = by_products(whole) if engine == PRODUCT else travel(whole)
    except UNCOMPUTED as error:
        if len(itineraries) == 1:
            return not_computed(error)
        places = [(case,) for case in range(len(itineraries))]
        if engine == PRODUCT:  # whoever asked for products will march them
            return gathered([not_computed(error)] * len(itineraries), places)
        return gathered([block_metrics([one], more, engine, keep) for one in itineraries], places)
    metrics = metrics_of(result, itineraries, whole)
    if engine == PRODUCT:
        _doubted(metrics)
    if keep is not None:
        metrics = {name: values for name, values in metrics.items() if keep(name)}
    return metrics if more is None else metrics | more(result, itineraries)


def _doubted(metrics: Metrics) -> None:
    """Cases whose products are not known well enough count as not computed."""
    height, error = (metrics[f"{of}/{HEIGHT}"] for of in ("recorded", "numerical_error"))
    doubted = np.any(error > UNRESOLVED * height, axis=1)
    if doubted.any():
        metrics["computed"] &= ~doubted
        text = f"not computed: as a product known to no better than {100 * UNRESOLVED:g} %"
        metrics["warnings"] = np.where(doubted, text, metrics["warnings"])


def not_computed(reason: object) -> Metrics:
    """Metrics of a single case that cannot be computed, with the reason (str or error)."""
    return {"computed": np.array([False]), "warnings": np.array([f"not computed: {reason}"])}


def reason_of(metrics: Metrics, case: int) -> str:
    """Why a case could not be computed."""
    return str(metrics["warnings"][case]).removeprefix("not computed: ")


def gathered(found: Sequence[Metrics], blocks: Sequence[Sequence[int]]) -> Metrics:
    """Metrics of all blocks in the order of the cases; NaN where a block has no such metric.

    Parameters
    ----------
    found : sequence of dict
        One a block.
    blocks : sequence of sequence of int
        The cases of each.
    """
    whole = Gathering(sum(len(block) for block in blocks))
    for metrics, block in zip(found, blocks, strict=True):
        whole.put(metrics, block)
    return whole.metrics


class Gathering:
    """Metrics of ``count`` cases, block by block, none of which is held on to."""

    def __init__(self, count: int) -> None:
        self._count = count
        self._whole: Metrics = {}
        self._texts = set[str]()

    def put(self, metrics: Metrics, block: Sequence[int]) -> None:
        """Add those of some cases."""
        rows = slice(block.start, block.stop) if isinstance(block, range) else list(block)
        for name, values in metrics.items():
            if name not in self._whole:
                kind = object if values.dtype.kind == "U" else values.dtype
                self._texts |= {name} if values.dtype.kind == "U" else set()
                empty = np.full((self._count, *values.shape[1:]), _empty(values), dtype=kind)
                self._whole[name] = empty
            self._whole[name][rows] = values

    @property
    def metrics(self) -> Metrics:
        """In the order of the cases; NaN where a block has no such metric."""
        return {
            name: values.astype(str) if name in self._texts else values
            for name, values in self._whole.items()
        }


def _empty(values: AnyArray) -> Any:
    """What stands where a block has nothing."""
    kind = values.dtype.kind
    return np.nan if kind == "f" else None if kind == "O" else values.dtype.type()


def _blocks(itineraries: Block, lanes: int) -> tuple[Sequence[int], ...]:
    """Cases that are kin, those that need like grids side by side, cut into blocks."""
    size = max(1, lanes // len(itineraries[0].lanes))
    blocks: list[tuple[int, ...]] = []
    for cases in kin(itineraries):
        ordered = sorted(cases, key=lambda case: (*_demand(itineraries[case]), case))
        blocks += [tuple(ordered[at : at + size]) for at in range(0, len(ordered), size)]
    return tuple(blocks)


def _demand(itinerary: Itinerary) -> tuple[float, ...]:
    """What grids depend on most: least Fourier number by half octaves, then the column's width."""
    tubes = [
        (part, stream) for part, stream in itinerary.passages if part.smooths and not part.separates
    ]
    fourier = min(
        (float(np.min(part.fourier_number(stream))) for part, stream in tubes), default=1.0
    )
    columns = [pair for pair in itinerary.passages if pair[0].separates]
    width = sum(float(np.max(part.shortest_time(stream))) for part, stream in columns)
    residence = sum(float(np.max(part.residence(stream))) for part, stream in tubes)
    return round(2 * np.log2(fourier)), width, fourier, residence
