"""Which combinations there are, before any is simulated."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from tailrace.quantities.arrays import IntArray
from tailrace.quantities.described import descriptions
from tailrace.scenario.changed import excluded, with_needs
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.studies.batch import PRODUCT
from tailrace.studies.chosen import against_all
from tailrace.studies.improving.aims import ORDERS, Aim, Constraints, aim_for
from tailrace.studies.improving.branches import Branches
from tailrace.studies.improving.instruments import Bench, Built

MOST_CHANGES, MOST_MULTIPLIED = 12, 20
"""Up to this many changes, all of their combinations are simulated; and where all of them are
products of transfer functions."""
FEW = 64
"""Combinations, of which each is built."""
STOP = 0.02


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A study of changes that has not been carried out yet. Made by ``planned``.

    A combination is a number whose bits are the changes in the order of the file. ``constraints``
    hold the scenario's own limit of pressure. ``heaters`` names, by change that the method forbids,
    the heated parts whose heat it takes. ``combinations`` are simulated first: all that are
    allowed, or where there are too many the start and each change with what it needs;
    ``instruments`` are theirs. ``searched``: whether there are too many to simulate all.
    """

    scenario: Scenario
    aim: Aim
    constraints: Constraints
    stop: float
    order: str
    bench: Bench
    heaters: dict[str, tuple[str, ...]]
    combinations: tuple[int, ...]
    instruments: Built
    searched: bool = False

    @cached_property
    def batch(self) -> Branches:
        """What is simulated first; equal instruments once."""
        which = self.instruments.which
        return Branches(
            "combinations",
            self.instruments.itineraries,
            lambda journey: self.where_of(journey, self.combinations, which),
        )

    @cached_property
    def question(self) -> dict[str, Any]:
        """What must not change while the study waits, in the order in which it is looked at."""
        return {
            "scenario_sha256": self.scenario.sha256,
            "aim": [self.aim.key, self.aim.of],
            "fingerprint": self.batch.fingerprint,
        }

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Of the changes, in the order of the file."""
        return tuple(one.name for one in self.scenario.document.changes)

    @cached_property
    def needs(self) -> tuple[int, ...]:
        """For each change the combination of itself and all that it needs."""
        document = self.bench.document
        return tuple(self.bits(with_needs(document, [name])) for name in self.names)

    @cached_property
    def apart(self) -> tuple[int, ...]:
        """Combinations of two that exclude each other."""
        return tuple(sorted(self.bits(pair) for pair in excluded(self.bench.document)))

    @cached_property
    def prices(self) -> tuple[float, ...]:
        """How long each change holds the best order up: one step, its money or its time."""
        changes = self.scenario.document.changes
        price = {"money": "cost", "effort": "effort"}.get(self.order)
        return tuple(float(getattr(one, price)) if price else 1.0 for one in changes)

    def bits(self, names: Collection[str]) -> int:
        """The combination of these names."""
        return sum(1 << index for index, name in enumerate(self.names) if name in names)

    def taken(self, combination: int) -> tuple[str, ...]:
        """The names of a combination."""
        return tuple(name for bit, name in enumerate(self.names) if combination >> bit & 1)

    def allowed(self, combination: int) -> bool:
        """Whether needs are met, nothing excludes another, and the method keeps its heat."""
        for bit, needed in enumerate(self.needs):
            if combination >> bit & 1 and needed & ~combination:
                return False
        if any(pair & ~combination == 0 for pair in self.apart):
            return False
        taken = self.taken(combination)
        if any(name in self.heaters for name in taken):
            return False
        controlled = self.scenario.document.method.needs_temperature_control
        return not (controlled and taken and self.bench.loses_heat(taken))

    def all_allowed(self) -> IntArray:
        """Every combination that is ``allowed``, rising."""
        bits = np.arange(1 << len(self.names))
        fine = np.ones(bits.size, dtype=bool)
        for bit, needed in enumerate(self.needs):
            fine &= (bits >> bit & 1 == 0) | (needed & ~bits == 0)
        for pair in self.apart:
            fine &= pair & ~bits != 0
        fine &= bits & self.bits(self.heaters) == 0
        found = bits[fine]
        if not self.scenario.document.method.needs_temperature_control:
            return found
        return np.array([one for one in found.tolist() if self.allowed(one)])

    def where_of(
        self, journey: int, combinations: Sequence[int], which: Sequence[tuple[int, ...]]
    ) -> str:
        """A journey in words; ``which`` journeys each combination makes, one with each column."""
        row = next(row for row, journeys in enumerate(which) if journey in journeys)
        place = self.where(combinations[row])
        columns = self.bench.columns
        return f"{place}, {columns[which[row].index(journey)]}" if columns else place

    def where(self, combination: int) -> str:
        """A combination in words, for messages."""
        return f"with {', '.join(self.taken(combination))}" if combination else "the start"


def planned(
    scenario: Scenario,
    aim: str = "",
    of: str = "",
    constraints: Constraints | None = None,
    stop: float = STOP,
    order: str = "gain",
    engine: str = PRODUCT,
) -> Plan:
    """Check the question, and build the instruments that are to be simulated.

    Raises StudyError for a scenario without changes, and an aim, constraint or order that cannot
    be. Raises ScenarioError where a combination of changes makes a scenario that is not sound.

    Parameters
    ----------
    aim : str
        One of ``AIMS``; empty: plates, without a column the variance.
    of : str
        Solute, or pair ``a/b`` for the resolution; empty: the worst of all counts.
    stop : float, 1
        A step that gains less than this share of the value before it is not worth making.
    order : str
        ``gain``, ``money`` or ``effort``; see ``tailrace.studies.improving.ordering``.
    engine : str
        As of ``tailrace.studies.runner.Runner``.
    """
    constraints = _checked(scenario, constraints or Constraints(), stop, order)
    bench = Bench(scenario)
    plan = Plan(
        scenario=scenario,
        aim=aim_for(scenario, aim, of),
        constraints=constraints,
        stop=stop,
        order=order,
        bench=bench,
        heaters=_heaters(scenario, bench),
        combinations=(),
        instruments=Built(),
    )
    return _of_all(plan, engine) or _of_few(plan)


def _of_all(plan: Plan, engine: str) -> Plan | None:
    """The plan to simulate all combinations; None where there are too many."""
    few = len(plan.names) <= MOST_CHANGES
    if not few and (len(plan.names) > MOST_MULTIPLIED or engine != PRODUCT):
        return None
    combinations = tuple(plan.all_allowed().tolist())
    itineraries = plan.bench.choose(combinations, plan) if len(combinations) > FEW else None
    if few and itineraries is None:
        itineraries = plan.bench.build([plan.taken(one) for one in combinations])
    if itineraries is None or not (few or not against_all(itineraries.itineraries)):
        return None
    return replace(plan, combinations=combinations, instruments=itineraries)


def _of_few(plan: Plan) -> Plan:
    """The plan to simulate the start and each change first, and to search from there."""
    combinations = tuple(one for one in (0, *sorted(set(plan.needs))) if plan.allowed(one))
    itineraries = plan.bench.build([plan.taken(one) for one in combinations])
    return replace(plan, combinations=combinations, instruments=itineraries, searched=True)


def _checked(scenario: Scenario, constraints: Constraints, stop: float, order: str) -> Constraints:
    """The constraints, with the scenario's own limit of pressure where none is given."""
    if not scenario.document.changes:
        raise StudyError(
            f"{scenario.path}: expected [[changes]] to choose from, found none; add one with a "
            'name and set = { "flow cell" = { volume = "2.5 uL" } }'
        )
    if order not in ORDERS:
        raise StudyError(f"expected an order of {', '.join(ORDERS)}, found {order}; write one")
    if not 0 <= stop < 1:
        raise StudyError(f"expected to stop at a share from 0 to 1, found {stop:g}; correct it")
    for name in descriptions(constraints):
        value = getattr(constraints, name)
        if value < 0:
            text = name.replace("_", " ")
            raise StudyError(f"expected a {text} of 0 or more, found {value:g}; correct it")
    limit = scenario.document.limits.pressure
    if constraints.pressure == constraints.pressure or limit is None:
        return constraints
    return replace(constraints, pressure=limit)


def _heaters(scenario: Scenario, bench: Bench) -> dict[str, tuple[str, ...]]:
    """Of the changes that take heat which the method needs."""
    document = scenario.document
    if not document.method.needs_temperature_control:
        return {}
    heated = tuple(part.name for part in document.path if getattr(part, "heater", False))
    return {
        one.name: heated
        for one in document.changes
        if bench.loses_heat(with_needs(bench.document, [one.name]))
    }
