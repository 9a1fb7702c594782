"""The rows of ``[[accept]]``, checked and in SI."""

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from tailrace.errors import QuantityError, ScenarioError
from tailrace.measures.registry import APEX, CAPACITY, METRICS, PLATES
from tailrace.quantities.kinds import plain, show
from tailrace.quantities.parse import parse, parse_difference, shortened
from tailrace.scenario.accept import (
    ALSO,
    DEFAULT_CONFIDENCE,
    DEFAULT_PROBABILITY,
    INJECTIONS,
    MEASURES,
    SERIES,
    AcceptTable,
    Asked,
)
from tailrace.scenario.contents import Contents
from tailrace.scenario.problems import Problem, unknown

Wrong = Iterator[tuple[str, str]]
"""Keys of a row, and the sentences that say what is wrong with them."""


@dataclass(frozen=True, kw_only=True)
class Criterion:
    """A metric of the run, and its limits if it has any.

    Parameters
    ----------
    measure : str
        A word of ``tailrace.scenario.accept.MEASURES``.
    of : tuple of int
        Position of the solute, or of both solutes of a pair; empty: the worst.
    label : str
        The same by name: ``humulone``, ``a/b``; empty: the worst.
    at_least, at_most : float, SI unit of the metric
        NaN: no such limit.
    margin : float, SI unit of the metric
        Difference of two instruments that does not matter; NaN: none given.
    injections : int, 1
        Of the series of which an RSD is judged.
    probability, confidence : float, 1
    """

    measure: str
    of: tuple[int, ...] = ()
    label: str = ""
    at_least: float = math.nan
    at_most: float = math.nan
    margin: float = math.nan
    injections: int = INJECTIONS
    probability: float = DEFAULT_PROBABILITY
    confidence: float = DEFAULT_CONFIDENCE

    @property
    def asked(self) -> Asked:
        """The metric and where it is found."""
        return MEASURES[self.measure]

    @property
    def repeated(self) -> str:
        """Name of the metric whose RSD over a series of injections this is; empty: none is."""
        return self.asked.metric.name.removeprefix("rsd_") if self.asked.group == SERIES else ""

    @property
    def limited(self) -> bool:
        """Whether it has a limit."""
        return not (math.isnan(self.at_least) and math.isnan(self.at_most))

    @property
    def name(self) -> str:
        """``plates of humulone``, ``plates, worst solute``, ``pressure``."""
        if self.asked.of == "run":
            return self.measure
        return self.measure + (f" of {self.label}" if self.label else f", worst {self.asked.of}")

    @property
    def kind(self) -> str:
        """Kind of quantity; empty: a plain number."""
        return self.asked.metric.kind

    @property
    def unit(self) -> str:
        """SI unit; "1" of a plain number."""
        return self.asked.metric.unit

    def shown(self, value: float) -> str:
        """A value of the metric as people write it."""
        return show(value, self.kind) if self.kind else plain(value)


def criteria_of(scenario: Contents) -> tuple[Criterion, ...]:
    """Return the criteria, in the order of the file.

    Raises ScenarioError for a row that is wrong; ``tailrace.load`` has found it already.
    """
    criteria, problems = read_criteria(scenario)
    if problems:
        raise ScenarioError([f"{problems[0].key}: {problems[0].sentence}"])
    return tuple(criteria)


def read_criteria(scenario: Contents) -> tuple[list[Criterion], list[Problem]]:
    """Read every row of a scenario that is sound otherwise, and say what is wrong."""
    criteria: list[Criterion] = []
    problems: list[Problem] = []
    for index, row in enumerate(scenario.document.accept):
        where = ("accept", index)
        found = list(_broken(scenario, row))
        if not found:
            one = _criterion(scenario, row)
            if one.name in [other.name for other in criteria]:
                found.append(
                    ("measure", f"expected {one.name} once, found it again; leave out one of them")
                )
            criteria.append(one)
        problems += [Problem((*where, key), sentence) for key, sentence in found]
    return criteria, problems


def _measure(row: AcceptTable) -> str:
    return ALSO.get(row.measure, row.measure)


def _criterion(scenario: Contents, row: AcceptTable) -> Criterion:
    asked = MEASURES[_measure(row)]
    names = [one.name for one in scenario.document.solutes]
    of: tuple[int, ...] = ()
    label = ""
    if row.solute is not None:
        of, label = (names.index(row.solute),), row.solute
    if row.pair is not None:
        of, label = _pairs(names)[row.pair], row.pair
    if not label and asked.of == "solute" and len(names) == 1:
        of, label = (0,), names[0]
    if not label and asked.of == "pair" and len(names) == 2:
        of, label = (0, 1), "/".join(names)
    limits = {
        key: _limit(getattr(row, key), asked.metric.kind)
        for key in ("at_least", "at_most")
        if getattr(row, key) is not None
    }
    if row.margin is not None:
        kind = asked.metric.kind
        limits["margin"] = parse_difference(row.margin, kind) if kind else float(row.margin)
    return Criterion(
        measure=_measure(row),
        of=of,
        label=label,
        probability=row.probability,
        confidence=row.confidence,
        injections=row.injections or INJECTIONS,
        **limits,
    )


def _pairs(names: list[str]) -> dict[str, tuple[int, int]]:
    return {
        f"{names[one]}/{names[other]}": (one, other)
        for one, other in itertools.permutations(range(len(names)), 2)
    }


def _limit(written: Any, kind: str) -> float:
    if kind:
        return parse(written, kind)
    return float(written)


def _broken(scenario: Contents, row: AcceptTable) -> Wrong:
    """Yield key and sentence of whatever is wrong with a row."""
    names = [one.name for one in scenario.document.solutes]
    measure = _measure(row)
    if measure not in MEASURES:
        yield "measure", unknown("measure", row.measure, MEASURES)
        return
    asked = MEASURES[measure]
    yield from _broken_names(row, asked, names)
    gradient = scenario.document.gradient is not None
    stands_in = asked.metric.in_gradient
    if stands_in and gradient:
        other = METRICS[stands_in].label
        yield "measure", f'expected "{other}" with a gradient, found {measure}; write that'
    if asked.metric == METRICS[CAPACITY] and not gradient:
        other = METRICS[PLATES].label
        yield "measure", f'expected "{other}" without a gradient, found {measure}; write that'
    if asked.metric.of_column and not scenario.has_column:
        other = METRICS[APEX if asked.of == "pair" else PLATES].label
        yield "measure", f'expected "{other}" without a column, found {measure}; write that'
    yield from _broken_series(scenario, row, asked)
    yield from _broken_limits(row, asked)
    several = len(names) > (1 if asked.of == "solute" else 2)
    both = row.at_least is not None and row.at_most is not None
    if both and several and asked.of != "run" and row.solute is None and row.pair is None:
        yield (
            "at_most",
            "expected one limit where the worst is judged, found two; write a row for each",
        )


def _broken_names(row: AcceptTable, asked: Asked, names: list[str]) -> Wrong:
    if row.solute is not None and asked.of != "solute":
        other = "pair" if asked.of == "pair" else "none, for it is one metric of the run"
        yield "solute", f"expected {other} beside {row.measure}, found a solute; leave it out"
    elif row.solute is not None and row.solute not in names:
        yield "solute", unknown("solute", row.solute, names)
    if row.pair is not None and asked.of != "pair":
        yield "pair", f"expected no pair beside {row.measure}, found one; leave it out"
    elif row.pair is not None and row.pair not in _pairs(names):
        yield "pair", unknown("pair", row.pair, _pairs(names))
    if asked.of == "pair" and len(names) < 2:
        yield "measure", f"expected two solutes for {row.measure}, found one; add one"


def _broken_series(scenario: Contents, row: AcceptTable, asked: Asked) -> Wrong:
    """An RSD of injections that do not vary, and a series of what is no RSD."""
    if asked.group != SERIES:
        if row.injections is not None:
            yield (
                "injections",
                f"expected an RSD beside it, found {row.measure}; leave it out",
            )
        return
    of = Criterion(measure=_measure(row)).repeated
    varying = [one for one in scenario.document.uncertain if one.kind == "injection"]
    readings = [ALSO.get(one.measure, one.measure) for one in scenario.document.reading]
    if not varying and METRICS[of].label not in readings:
        yield (
            "measure",
            "expected what varies from one injection to the next, found nothing; add "
            'field = "method.flow", distribution = "normal", relative = 0.001 and kind = '
            f'"injection" below [[uncertain]], or a [[reading]] of {METRICS[of].label}',
        )


def _broken_margin(row: AcceptTable, asked: Asked) -> Wrong:
    if row.margin is None:
        return
    plain_number = isinstance(row.margin, (int, float)) and not isinstance(row.margin, bool)
    try:
        size = parse_difference(row.margin, asked.metric.kind) if asked.metric.kind else math.nan
    except QuantityError as error:
        yield "margin", str(error)
        return
    if not asked.metric.kind:
        size = float(row.margin) if plain_number else math.nan
    if not (size > 0 and math.isfinite(size)):
        yield "margin", f"expected a difference above 0, found {shortened(row.margin)}; write one"


def _broken_limits(row: AcceptTable, asked: Asked) -> Wrong:
    found = []
    for key in ("at_least", "at_most"):
        written = getattr(row, key)
        if written is None:
            continue
        number = isinstance(written, (int, float)) and not isinstance(written, bool)
        if asked.metric.kind:
            try:
                found.append(parse(written, asked.metric.kind))
            except QuantityError as error:
                yield key, str(error)
        elif not number or not math.isfinite(written):
            yield (
                key,
                f"expected a number without a unit, found {shortened(written)}; write {key} = 1.5",
            )
        else:
            found.append(float(written))
    yield from _broken_margin(row, asked)
    if row.at_least is None and row.at_most is None:
        yield "measure", "expected at_least or at_most, found neither; add one"
    if len(found) == 2 and not found[0] < found[1]:
        yield (
            "at_most",
            f"expected a limit above at_least ({shortened(row.at_least)}), found "
            f"{shortened(row.at_most)}; correct one of them",
        )
