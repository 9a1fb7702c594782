"""SI values in the unit that the trade reads; times in minutes where a scenario has them so."""

import re
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from functools import wraps
from typing import Any, ParamSpec, TypeVar, overload

from tailrace.quantities.arrays import FloatArray, Number
from tailrace.quantities.kinds import KINDS
from tailrace.studies.improving.result import Improvement
from tailrace.wording import word

P = ParamSpec("P")
T = TypeVar("T")
TIMES: ContextVar[str] = ContextVar("unit of times", default="s")
FIELD = re.compile(r"(^|\.)([a-z][a-z_]*)(?= \+ |$)")
ROOM = re.compile(r"(?:^|(?<= \+ ))(?:solutes\.|path\.|method\.(?=eluent\.))")
MINUTES = re.compile(r"[0-9.,\s]*min(ute)?s?\s*", re.IGNORECASE)
PLAIN = {("1", "%"): 0.01, ("1/m^3", "1/mL"): 1e6}
"""Units for people that no kind of quantity has, by the SI unit, and what one of them is in it."""


def in_minutes(scenario: str) -> bool:
    """Whether a scenario (its text) gives a time at which something is recorded in minutes."""
    try:
        written = tomllib.loads(scenario)
    except ValueError:
        return False
    found = list[object]()
    for group in ("solutes", "path", "measured"):
        rows = written.get(group, [])
        for one in rows if isinstance(rows, list) else []:
            found += [one.get(key) for key in ("retention_time", "dead_time", "time_unit")]
            found += one.get("window") or []
    found += [row.get("time") for row in written.get("gradient", {}).get("programme", [])]
    return any(isinstance(one, str) and MINUTES.fullmatch(one) for one in found)


@contextmanager
def times_as_in(scenario: str) -> Iterator[None]:
    """Within, times are told in the unit that a scenario (its text) gives them in."""
    before = TIMES.set("min" if in_minutes(scenario) else "s")
    try:
        yield
    finally:
        TIMES.reset(before)


def as_recorded(reader: Callable[P, T]) -> Callable[P, T]:
    """What is told of a record (the first argument), times as in the scenario that it holds."""

    @wraps(reader)
    def within(*args: P.args, **kwargs: P.kwargs) -> T:
        record = next(iter((*args, *kwargs.values())))
        with times_as_in(str(getattr(record, "attrs", {}).get("scenario", ""))):
            return reader(*args, **kwargs)

    return within


@dataclass(frozen=True)
class Trade:
    """A unit to show values in.

    Parameters
    ----------
    unit : str
        Empty for plain numbers.
    size : float, SI
        What one of it is.
    offset : float, SI
        Its zero.
    """

    unit: str
    size: float = 1.0
    offset: float = 0.0

    @overload
    def of(self, value: float) -> float: ...
    @overload
    def of(self, value: FloatArray) -> FloatArray: ...
    def of(self, value: Number) -> Number:
        """A value, or an array of values, in this unit."""
        return (value - self.offset) / self.size

    @overload
    def span(self, difference: float) -> float: ...
    @overload
    def span(self, difference: FloatArray) -> FloatArray: ...
    def span(self, difference: Number) -> Number:
        """A difference, or an array of them, in this unit."""
        return difference / self.size

    def named(self, name: str) -> str:
        """``width of first, s``; a plain number goes by its name alone."""
        return f"{name}, {self.unit}" if self.unit else name


def in_words(name: str) -> str:
    """``tube.gap_length`` as ``tube: gap length``; several inputs joined by a plus.

    The field in the language that holds, the part by its name.
    """
    plain = ROOM.sub("", name).replace('"', "")
    return FIELD.sub(lambda one: (": " if one[1] else "") + word(one[2].replace("_", " ")), plain)


def trade(kind: str, unit: str) -> Trade:
    """The usual unit of a kind of quantity.

    ``kind``: a name in ``tailrace.quantities.kinds.KINDS``; any other: the SI unit stays; ``unit``:
    SI unit; "1" of a plain number.
    """
    if kind == "duration":
        return people(unit)
    if kind in KINDS:
        row = KINDS[kind]
        return Trade(*row.units[0], row.offset)
    return Trade("" if unit == "1" else unit)


def in_unit(unit: str, shown: str) -> float:
    """What one of a unit for people is in SI.

    ``unit``, ``shown``: SI unit, and the one for people. Raises KeyError where no kind of quantity
    has both.

    Returns
    -------
    float, ``unit``
    """
    if unit == shown:
        return 1.0
    known = {(row.unit, name): size for row in KINDS.values() for name, size in row.units}
    return (PLAIN | known)[unit, shown]


def people(unit: str, shown: str = "") -> Trade:
    """What people read numbers of an SI unit in: ``shown``, or the unit itself; times as
    ``times_as_in`` says."""
    name = shown or ("" if unit == "1" else unit)
    name = TIMES.get() if name == "s" else name
    return Trade(name, in_unit(unit, name)) if name else Trade("")


SCALED = {
    "combinations": ("value", "error", "ceiling", "theory"),
    "steps": (
        *("value", "error", "gain", "gain_error", "gain_low", "gain_high"),
        *("theory", "theory_gain"),
    ),
    "changes": (
        *("alone", "alone_error", "last", "last_error", "share", "share_error"),
        *("theory_alone", "tried_gain"),
    ),
    "expected": ("gain_low", "gain_high", "whole_low", "whole_high"),
}
"""Of an ``Improvement`` the fields that are in the unit of its aim, or hold rows with such."""


def for_people(found: Improvement) -> Improvement:
    """The same with the aim's metric in the unit for people, which the aim then names."""
    row = found.aim.row
    unit = people(*(("1", "%") if found.aim.columns else (row.unit, row.shown)))
    if unit.unit in ("", row.unit) or found.aim.unit or found.aim.relative:
        return found

    def scaled(one: Any, names: tuple[str, ...]) -> Any:
        return replace(one, **{name: getattr(one, name) / unit.size for name in names})

    groups: dict[str, Any] = {}
    for group, names in SCALED.items():
        held = getattr(found, group)
        if isinstance(held, tuple):
            groups[group] = tuple(scaled(one, names) for one in held)
        elif held is not None:
            groups[group] = scaled(held, names)
    return replace(found, aim=replace(found.aim, unit=unit.unit), **groups)
