"""The instrument after each combination of changes, built from few distinct parts.

Twelve changes make 4,096 instruments, but of one part there are no more versions than changes of it
make. Each version is read, checked and given its stream once.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from pydantic import ValidationError

from tailrace.errors import ScenarioError, TailraceError
from tailrace.journey.hydraulics import at_cells, pressure
from tailrace.journey.itinerary import Itinerary
from tailrace.parts.base import Passage
from tailrace.parts.behind import up_to_cell
from tailrace.parts.placed import placed
from tailrace.scenario.build import listed
from tailrace.scenario.changed import changed, document_with, heaters, on_columns
from tailrace.scenario.model import Document
from tailrace.scenario.rules import broken_rules, solvent_of
from tailrace.scenario.scenario import Scenario

MOST_PARTS = 150
"""On one path that is read at a time; a file may have 200."""


@dataclass(frozen=True)
class Instruments:
    """Instruments, those that are the same only once.

    Parameters
    ----------
    itineraries : tuple of Itinerary
        All different; passages that are the same are the same objects.
    which : tuple of int
        For each combination, the place of its itinerary.
    cell_limits : tuple of float, Pa
        Pressure at the inlet of each combination's recording cell at which the first of its cells
        reaches its limit; NaN where none is given.
    """

    itineraries: tuple[Itinerary, ...]
    which: tuple[int, ...]
    cell_limits: tuple[float, ...]


@dataclass(frozen=True)
class Built:
    """Instruments as of ``Instruments``, each with every column: a row of places and of limits
    for each combination."""

    itineraries: tuple[Itinerary, ...] = ()
    which: tuple[tuple[int, ...], ...] = ()
    cell_limits: tuple[tuple[float, ...], ...] = ()


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
        try:
            self._read(documents)
            sound = not any(next(iter(broken_rules(one)), None) for one in documents)
        except (TailraceError, ValidationError):
            sound = False
        if not sound:
            for names in combinations:  # the first that is not sound says why
                changed(self._scenario, names)
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


def _limit(passages: Sequence[Passage]) -> float:
    limits = {
        part.name: float(np.min(part.pressure_limit)) for part, _ in passages if part.observes
    }
    if len(limits) < 2:
        return next(iter(limits.values()), float("nan"))
    inlets, recording = at_cells(passages), pressure(passages).cell_inlet
    found = [limit - float(inlets[name][0]) + recording for name, limit in limits.items()]
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
