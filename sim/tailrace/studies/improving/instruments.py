"""The instrument after each combination of changes, built from few distinct parts.

Twelve changes make 4,096 instruments, but of one part there are no more versions than changes of it
make. Each version is read, checked and given its stream once.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement
from typing import Any, Protocol

import numpy as np
from pydantic import ValidationError

from tailrace.errors import ScenarioError, TailraceError
from tailrace.journey.hydraulics import at_cells, pressure, thickest_of
from tailrace.journey.itinerary import Itinerary
from tailrace.parts.base import Passage
from tailrace.parts.behind import up_to_cell
from tailrace.parts.placed import placed
from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.scenario.build import listed
from tailrace.scenario.changed import (
    changed,
    document_with,
    heaters,
    injected_share,
    on_columns,
)
from tailrace.scenario.model import Document
from tailrace.scenario.rules import broken_rules, solvent_of, table, tables
from tailrace.scenario.scenario import Scenario
from tailrace.studies.chosen import Chosen

MOST_PARTS = 150
"""On one path that is read at a time; a file may have 200."""
AT_RANDOM = 32
"""Combinations that are built beside those that are chosen from."""


@dataclass(frozen=True)
class Instruments:
    """Instruments, those that are the same only once.

    Parameters
    ----------
    itineraries : sequence of Itinerary
        All different; passages that are the same are the same objects.
    which : sequence of int
        For each combination, the place of its itinerary.
    cell_limits : sequence of float, Pa
        Pressure at the inlet of each combination's recording cell at which the first of its cells
        reaches its limit; NaN where none is given.
    """

    itineraries: Sequence[Itinerary]
    which: Sequence[int]
    cell_limits: Sequence[float]


class Choices(Protocol):
    """Combinations of changes, as bits."""

    @property
    def needs(self) -> tuple[int, ...]:
        """For each change the combination of itself and all that it needs."""
        ...

    def taken(self, combination: int) -> tuple[str, ...]:
        """The names of a combination."""
        ...


@dataclass(frozen=True)
class Built:
    """Instruments as of ``Instruments``, each with every column: a row of places and of limits
    for each combination."""

    itineraries: Sequence[Itinerary] = ()
    which: Sequence[tuple[int, ...]] = ()
    cell_limits: Sequence[tuple[float, ...]] = ()


class Bench:
    """Builds instruments of a scenario, each with every one of its ``[[columns]]``."""

    def __init__(self, scenario: Scenario) -> None:
        columns = on_columns(scenario)
        self.document, self.columns = scenario.tables, tuple(columns)
        self._itineraries: list[Itinerary] = []
        self._workshops = [
            Workshop(one, self._itineraries) for one in columns.values() or (scenario,)
        ]

    def loses_heat(self, names: Collection[str]) -> bool:
        """Whether fewer parts heat with these changes than without any."""
        return bool(heaters(document_with(self.document, names)) < heaters(self.document))

    def injected(self, bits: IntArray, plan: Choices) -> FloatArray:
        """How much combinations inject over the start; (columns, combinations, 1) array."""
        changes = [one for _, one in tables(self.document, "changes")]
        mask = sum(1 << at for at, one in enumerate(changes) if "injection" in table(one, "set"))
        distinct, which = np.unique(bits & mask, return_inverse=True)
        shares = [
            [
                injected_share(one.document, document_with(one.document, plan.taken(few)))
                for few in distinct.tolist()
            ]
            for one in self._workshops
        ]
        return np.array(shares)[:, which.reshape(-1), None]

    def choose(self, combinations: Sequence[int], plan: Choices) -> Built | None:
        """As ``Workshop.choose``, of one column."""
        if len(self._workshops) > 1:
            return None
        chosen = self._workshops[0].choose(combinations, plan)
        if chosen is None:
            return None
        limits = [(one,) for one in chosen.cell_limits]
        return Built(chosen.itineraries, [(one,) for one in chosen.which], limits)

    def build(self, combinations: Sequence[tuple[str, ...]]) -> Built:
        """As ``Workshop.build``, with every column."""
        each = [one.build(combinations) for one in self._workshops]
        return Built(
            tuple(self._itineraries),
            tuple(zip(*(one.which for one in each), strict=True)),
            tuple(zip(*(one.cell_limits for one in each), strict=True)),
        )


class Workshop:
    """Builds instruments of one scenario, and puts them behind those of others."""

    def __init__(self, scenario: Scenario, itineraries: list[Itinerary] | None = None) -> None:
        self._scenario = scenario
        self.document = scenario.tables
        self._passages: dict[tuple[str, str], Passage] = {}
        self._stands: dict[tuple[tuple[str, str], ...], Passage] = {}
        self._behind: dict[int, Passage] = {}
        self._places: dict[tuple[int, ...], int] = {}
        self._itineraries: list[Itinerary] = [] if itineraries is None else itineraries
        self._base: Itinerary

    def build(self, combinations: Sequence[tuple[str, ...]]) -> Instruments:
        """Build the instruments of combinations: names of changes that can be made together.

        The itineraries of earlier calls stand in front. Raises ScenarioError where a combination
        makes a scenario that is not sound.
        """
        documents = [document_with(self.document, names) for names in combinations]
        self._check(documents, combinations)
        which, limits = [], []
        for document in documents:
            passages = self._recorded(document)
            numbers = tuple(id(pair) for pair in passages)
            if numbers not in self._places:
                self._places[numbers] = len(self._itineraries)
                self._itineraries.append(replace(self._base, passages=passages))
            which.append(self._places[numbers])
            limits.append(_limit(passages))
        return Instruments(tuple(self._itineraries), tuple(which), tuple(limits))

    def _check(
        self, documents: Sequence[dict[str, Any]], combinations: Sequence[tuple[str, ...]]
    ) -> None:
        """Read documents, those of combinations, and hold them against all rules."""
        try:
            self._read(documents)
            sound = not any(next(iter(broken_rules(one)), None) for one in documents)
        except (TailraceError, ValidationError):
            sound = False
        if not sound:
            for names in combinations:  # the first that is not sound says why
                changed(self._scenario, names)

    def choose(self, combinations: Sequence[int], plan: Choices) -> Instruments | None:
        """As ``build`` of many combinations, by bits, but from few; None where that cannot be.

        That is where changes add or remove no part, and each part depends on few of them. Built,
        and held against the rules, are as many as have any two versions of two parts together, and
        some at random.
        """
        bits = np.array(combinations)
        singles = [self._after(plan, one) for one in (0, *plan.needs)]
        first, *others = [(_names(one), _keys(one)) for one in singles]
        if any(names != first[0] or len(keys) != len(first[1]) for names, keys in others):
            return None
        masks = [0] * len(first[1])
        for needed, (_, keys) in zip(plan.needs, others, strict=True):
            for place, (one, other) in enumerate(zip(first[1], keys, strict=True)):
                masks[place] |= needed if one != other else 0
        built = np.unique(
            np.concatenate(
                [
                    *(
                        np.unique(bits & (one | other), return_index=True)[1]
                        for one, other in combinations_with_replacement(masks, 2)
                    ),
                    np.random.default_rng(len(bits)).permutation(len(bits))[:AT_RANDOM],
                ]
            )
        )
        if built.size >= bits.size:
            return None
        known = self._versions(bits[built], masks, plan)
        return None if known is None else self._chosen(bits, masks, known)

    def _versions(
        self, bits: IntArray, masks: Sequence[int], plan: Choices
    ) -> list[dict[int, Passage]] | None:
        """Each place's passage by the changes that it depends on; None where by others, too."""
        documents = [self._after(plan, one) for one in bits.tolist()]
        self._check(documents, [plan.taken(one) for one in bits.tolist()])
        known: list[dict[int, Passage]] = [{} for _ in masks]
        for one, document in zip(bits.tolist(), documents, strict=True):
            for place, pair in enumerate(self._recorded(document)):
                if known[place].setdefault(one & masks[place], pair) is not pair:
                    return None
        return known

    def _chosen(
        self, bits: IntArray, masks: Sequence[int], known: Sequence[dict[int, Passage]]
    ) -> Instruments:
        columns, versions = [], []
        for mask, passages in zip(masks, known, strict=True):
            keys = np.array(sorted(passages))
            distinct = list({id(pair): pair for pair in passages.values()}.values())
            places = {id(pair): at for at, pair in enumerate(distinct)}
            of = np.array([places[id(passages[key])] for key in keys.tolist()])
            columns.append(of[np.searchsorted(keys, bits & mask)])
            versions.append(tuple(distinct))
        table = np.stack(columns, axis=1)
        _, first, group = np.unique(table, axis=0, return_index=True, return_inverse=True)
        order = np.argsort(first)
        rank = np.empty_like(order)
        rank[order] = np.arange(order.size)
        chosen = Chosen(self._base, tuple(versions), table[first[order]])
        which = rank[group.reshape(-1)]
        return Instruments(chosen, which.tolist(), _limits(chosen)[which].tolist())

    def _after(self, plan: Choices, combination: int) -> dict[str, Any]:
        return document_with(self.document, plan.taken(combination))

    def _recorded(self, document: dict[str, Any]) -> tuple[Passage, ...]:
        """The passages of an instrument; equal ones are the same objects.

        Of those that know what stands before them that is so where all before them is equal.
        """
        keys = _keys(document)
        plain = tuple(self._passages[key] for key in keys)
        stand = [
            before if pair is before else self._stands.setdefault(tuple(keys[: at + 1]), pair)
            for at, (before, pair) in enumerate(zip(plain, placed(plain), strict=True))
        ]
        cell = document.get("detector", {}).get("cell")
        return tuple(
            self._behind.setdefault(id(before), pair) if pair[0].behind else before
            for before, pair in zip(stand, up_to_cell(stand, cell), strict=True)
        )

    def _read(self, documents: Sequence[dict[str, Any]]) -> None:
        """Give every version of a part its stream."""
        wanted: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {}
        for document in documents:
            frame = {key: value for key, value in document.items() if key != "path"}
            news = wanted.setdefault(_text(frame), (frame, {}))[1]
            # of the first path every part, so that a frame with known parts alone is read too
            for part, key in zip(document["path"], _keys(document)[1:], strict=False):
                if not news or key not in self._passages:
                    news.setdefault(_text(part), part)
        for frame, parts in wanted.values():
            listed = list(parts.values())
            for at in range(0, len(listed), MOST_PARTS):
                self._take({**frame, "path": listed[at : at + MOST_PARTS]})

    def _take(self, document: dict[str, Any]) -> None:
        """Put parts on one path, whether they go together or not, and keep what they become."""
        built = replace(self._scenario, document=Document.model_validate(document))
        problems = built.unsupported()
        if problems:
            raise ScenarioError([problems[0].sentence])
        self._base = listed(built)
        for key, pair in zip(_keys(document), self._base.passages, strict=True):
            self._passages.setdefault(key, pair)


def _limits(chosen: Chosen) -> FloatArray:
    """Of each instrument; see ``Instruments``."""
    cells = [place for place, known in enumerate(chosen.versions) if known[0][0].observes]
    if len(cells) > 1:
        return np.array([_limit(one.passages) for one in chosen])
    found = np.full(len(chosen), np.nan)
    for place in cells:
        known = [float(np.min(part.pressure_limit)) for part, _ in chosen.versions[place]]
        found = np.array(known)[chosen.which[:, place]]
    return found


def _names(document: dict[str, Any]) -> list[Any]:
    return [part.get("name") for part in document["path"]]


def _limit(passages: Sequence[Passage]) -> float:
    limits = {
        part.name: float(np.min(part.pressure_limit)) for part, _ in passages if part.observes
    }
    if len(limits) < 2:
        return next(iter(limits.values()), float("nan"))
    inlets, recording = at_cells(passages), pressure(passages).cell_inlet
    most = thickest_of(passages)
    found = [limit + most * (recording - float(inlets[name][0])) for name, limit in limits.items()]
    return min((one for one in found if not np.isnan(one)), default=float("nan"))


def _keys(document: dict[str, Any]) -> list[tuple[str, str]]:
    """What decides each passage: what is pumped, and what the file says of the part."""
    sample = document["injection"] if solvent_of(document) else None
    method = _text([document["method"], document.get("gradient"), sample])
    ends = [document["injection"], *document["path"]]
    ends += [{"part": "detector"} | document["detector"]] if "detector" in document else []
    return [(method, _text(one)) for one in ends]


def _text(value: object) -> str:
    return json.dumps(value, sort_keys=True, default=str)
