"""Many journeys that differ in some numbers only: one itinerary, and an array for each of these.

Building an itinerary from a scenario takes a millisecond, and a study may ask for a million. What
an input does is found by building a few: if each number of the parts and streams that changes goes
with one input, as the input itself or in proportion to it, all others follow without building them.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, TypeAlias, overload

import numpy as np

from tailrace.journey.itinerary import Itinerary
from tailrace.journey.lanes import alone
from tailrace.parts.base import ALIKE
from tailrace.quantities.arrays import FloatArray, IntArray

ASIDE = ("pressure_limit",)
"""Numbers that no march reads; they are held against each case's own pressure afterwards."""
SAME = 1e-12
"""Relative; to which what follows must be what is built."""
TRIED = 3
"""Cases that are built as well."""
Number: TypeAlias = tuple[int, int, str]
"""Which passage, its part (0) or stream (1), and the field."""
Known: TypeAlias = dict[int, tuple[float, float, list[tuple[Number | None, FloatArray | None]]]]
"""By place of an input: between which values it is known what it moves, and by which factors."""
Moved: TypeAlias = tuple[IntArray, FloatArray]
"""Which input moves a number, and the factor to it, (lanes,) arrays; NaN: it is as in the base."""
Build: TypeAlias = Callable[[FloatArray], Itinerary]
"""The itinerary of one case, from its (inputs,) array."""


class Many(Sequence[Itinerary]):
    """Itineraries that are made when they are asked for, and joined without making each."""

    base: Itinerary

    def picked(self, cases: Sequence[int] | IntArray) -> "Many":
        """Some of them."""
        raise NotImplementedError

    def joined(self) -> Itinerary:
        """One journey for all, every number that may differ a (lanes,) array."""
        raise NotImplementedError

    def kin(self) -> list[Sequence[int]]:
        """Those that can be lanes of one journey, in the order of the first of each."""
        raise NotImplementedError

    @property
    def content(self) -> tuple[list[Itinerary], list[bytes]]:
        """All that they are made of, for a fingerprint."""
        raise NotImplementedError


@dataclass(frozen=True, eq=False)
class Cases(Many):
    """A sequence of itineraries that are made when they are asked for.

    Parameters
    ----------
    base : Itinerary
    values : (cases, inputs) array, SI units of the inputs
    moved : dict of Number to Moved
        What differs from the base.
    """

    base: Itinerary
    values: FloatArray
    moved: dict[Number, Moved]

    def __len__(self) -> int:
        """Number of cases."""
        return len(self.values)

    @overload
    def __getitem__(self, case: int) -> Itinerary: ...
    @overload
    def __getitem__(self, case: slice) -> "Cases": ...
    def __getitem__(self, case: int | slice) -> "Itinerary | Cases":
        """One case, or a slice of them."""
        if isinstance(case, slice):
            return replace(self, values=self.values[case])
        case = range(len(self))[case]  # a sequence ends, though no number may be moved
        rows = {key: self._rows(key, slice(case, case + 1))[0] for key in self.moved}
        return self._made(
            {key: row if row.size > 1 else float(row[0]) for key, row in rows.items()}
        )

    def _rows(self, key: Number, cases: slice) -> FloatArray:
        """A number that is moved, (cases, lanes) or (cases, 1) array."""
        which, factor = self.moved[key]
        own = np.asarray(_value(self.base, key), dtype=float)
        return np.where(np.isnan(factor), own, self.values[cases][:, which] * factor)

    def picked(self, cases: Sequence[int] | IntArray) -> "Cases":
        """Some of the cases."""
        return replace(self, values=self.values[np.asarray(cases, dtype=int)])

    def kin(self) -> list[Sequence[int]]:
        """All of them: they differ in numbers only."""
        return [range(len(self))]

    @property
    def content(self) -> tuple[list[Itinerary], list[bytes]]:
        """All that the cases are made of, for a fingerprint."""
        rows = [
            repr(key).encode() + which.tobytes() + factor.tobytes()
            for key, (which, factor) in self.moved.items()
        ]
        return [self.base], [*rows, self.values.tobytes()]

    def altered(self, alter: Callable[[Itinerary], Itinerary]) -> "Cases":
        """The same cases with some passages left out."""
        base = alter(self.base)
        unchanged = {id(pair[0]): at for at, pair in enumerate(base.passages)}
        places = {at: unchanged.get(id(pair[0])) for at, pair in enumerate(self.base.passages)}
        moved = {
            (place, side, name): one
            for (at, side, name), one in self.moved.items()
            if (place := places[at]) is not None
        }
        return replace(self, base=base, moved=moved)

    def alone(self, lane: int) -> "Cases":
        """One of the lanes of every case."""
        moved = {
            key: (which[at], factor[at])
            for key, (which, factor) in self.moved.items()
            for at in [slice(lane, lane + 1) if which.size > 1 else slice(None)]
        }
        return replace(self, base=alone(self.base, lane), moved=moved)

    def joined(self) -> Itinerary:
        """One journey for all cases, every number that may differ a (lanes,) array."""
        shape = len(self), len(self.base.lanes)
        numbers: dict[Number, Any] = {}
        for at, pair in enumerate(self.base.passages):
            for side, record in enumerate(pair):
                for name, value in _numbers(record):
                    key = at, side, name
                    rows = self._rows(key, slice(None)) if key in self.moved else value
                    whole = np.broadcast_to(np.asarray(rows, dtype=float), shape).reshape(-1)
                    numbers[key] = whole if name not in ASIDE else float("nan")
        built = self._made(numbers)
        names = self.base.lanes * len(self)
        return replace(built, lanes=names, pressure_limit=float("nan"))

    def _made(self, numbers: dict[Number, Any]) -> Itinerary:
        by: dict[tuple[int, int], dict[str, Any]] = {}
        for (at, side, name), value in numbers.items():
            by.setdefault((at, side), {})[name] = value
        passages = [
            (_with(part, by.get((at, 0), {})), _with(stream, by.get((at, 1), {})))
            for at, (part, stream) in enumerate(self.base.passages)
        ]
        return replace(self.base, passages=tuple(passages))


def kinship(itinerary: Itinerary) -> tuple[Any, ...]:
    """What two cases must have in common to be lanes of one journey; can be compared and hashed."""
    return tuple(kind_of(part) for part, _ in itinerary.passages)


def kin(itineraries: Sequence[Itinerary]) -> list[Sequence[int]]:
    """Cases that are kin, in the order of the first of each; every part is looked at once."""
    if isinstance(itineraries, Many):
        return itineraries.kin()
    of_part: dict[int, int] = {}
    numbers: dict[Any, int] = {}
    found: dict[tuple[int, ...], list[int]] = {}
    for case, itinerary in enumerate(itineraries):
        for part, _ in itinerary.passages:
            if id(part) not in of_part:
                of_part[id(part)] = numbers.setdefault(kind_of(part), len(numbers))
        key = tuple(of_part[id(part)] for part, _ in itinerary.passages)
        found.setdefault(key, []).append(case)
    return [*found.values()]


def kind_of(part: Any) -> tuple[Any, ...]:
    """What two parts must have in common to be lanes of one; can be compared and hashed."""
    return (type(part).__name__, *(_trait(name, value) for name, value in _entries(part)))


def joined(itineraries: Sequence[Itinerary]) -> Itinerary:
    """One journey for cases that are kin.

    Parameters
    ----------
    itineraries : sequence of Itinerary

    Returns
    -------
    Itinerary
        Every number that may differ is a (lanes,) array; without limits of pressure.
    """
    if isinstance(itineraries, Many):
        return itineraries.joined()
    each = len(itineraries[0].lanes)
    passages = []
    for steps in zip(*(one.passages for one in itineraries), strict=True):
        parts, streams = zip(*steps, strict=True)
        passages.append((_stacked(parts, each), _stacked(streams, each)))
    lanes = tuple(name for one in itineraries for name in one.lanes)
    return replace(
        itineraries[0], lanes=lanes, passages=tuple(passages), pressure_limit=float("nan")
    )


def _with(record: Any, numbers: Mapping[str, Any]) -> Any:
    return replace(record, **numbers) if numbers else record


def limits_of(itineraries: Sequence[Itinerary]) -> FloatArray:
    """Limits of pressure of the path, then of each cell. (cases, limits) array, Pa; (1, limits)
    where they are those of all cases."""
    alike = [itineraries.base] if isinstance(itineraries, Cases) else itineraries
    return np.array(
        [
            [
                one.pressure_limit,
                *(float(np.min(part.pressure_limit)) for part, _ in one.passages if part.observes),
            ]
            for one in alike
        ]
    )


def followed(
    build: Build, nominal: FloatArray, values: FloatArray, known: Known | None = None
) -> Cases | None:
    """Cases without building each; None where they have to be built.

    Parameters
    ----------
    build : callable
    nominal : (inputs,) array, SI units of the inputs
    values : (cases, inputs) array, SI units of the inputs
    known : dict, optional
        What was found of the same inputs at the same path before; what is found now is put in.
    """
    base, known = build(nominal), {} if known is None else known
    numbers: dict[Number, Moved] = {}
    for place in range(len(nominal)):
        low, high = float(values[:, place].min()), float(values[:, place].max())
        if low == high == nominal[place]:
            continue
        if place not in known or not known[place][0] <= low <= high <= known[place][1]:
            known[place] = low, high, [*_goes_with(build, base, nominal, (place, low, high))]
        for key, factor in known[place][2]:
            if key is None or factor is None:
                return None
            merged = _merged(numbers.get(key), place, factor)
            if merged is None:
                return None
            numbers[key] = merged
    cases = Cases(base, values, numbers)
    for case in np.unique(np.linspace(0, len(values) - 1, TRIED).astype(int)).tolist():
        if not alike(cases[case], build(values[case])):
            return None
    return cases


def _goes_with(
    build: Build, base: Itinerary, nominal: FloatArray, moved: tuple[int, float, float]
) -> Iterator[tuple[Number | None, FloatArray | None]]:
    """What an input moves between two values, with the factors to it."""
    place, *ends = moved
    for end in np.unique(ends):
        if end != nominal[place]:
            at = nominal.copy()
            at[place] = end
            yield from _changed(base, build(at), float(end))


def _merged(known: Moved | None, place: int, factor: FloatArray) -> Moved | None:
    """What moves a number, with an input that does; None where another one moves it, too."""
    which = np.full(factor.shape, place)
    if known is None:
        return which, factor
    (before, by), free = known, np.isnan(factor)
    same = (before == which) & np.isclose(by, factor, rtol=SAME, atol=0.0)
    if not np.all(free | np.isnan(by) | same):
        return None
    return np.where(free, before, which), np.where(free, by, factor)


def _changed(
    base: Itinerary, other: Itinerary, value: float
) -> Iterator[tuple[Number | None, FloatArray | None]]:
    """Numbers that differ, each with the factor to the input, (lanes,) array; NaN: as it was."""
    if (base.lanes, len(base.passages)) != (other.lanes, len(other.passages)):
        yield None, None
        return
    for at, (pair, changed) in enumerate(zip(base.passages, other.passages, strict=True)):
        for side, (record, new) in enumerate(zip(pair, changed, strict=True)):
            if type(record) is not type(new):
                yield None, None
                return
            for field in _fields(record):
                one, two = getattr(record, field.name), getattr(new, field.name)
                if _equal(one, two):
                    continue
                if not _is_number(field.name, one) or field.name in ASIDE or value == 0:
                    yield None, None
                    return
                one, two = np.broadcast_arrays(np.atleast_1d(one), two)
                yield (at, side, field.name), np.where(one == two, np.nan, two / value)


def alike(one: Itinerary, other: Itinerary) -> bool:
    """Whether two itineraries have the same numbers, but for rounding."""
    return all(
        _equal(getattr(record, field.name), getattr(new, field.name), SAME)
        for pair, changed in zip(one.passages, other.passages, strict=True)
        for record, new in zip(pair, changed, strict=True)
        for field in _fields(record)
    )


def _equal(one: Any, other: Any, within: float = 0.0) -> bool:
    if one is other:
        return True
    if isinstance(one, (str, bool, tuple)) or one is None:
        return bool(one == other)
    if isinstance(one, float) and isinstance(other, float):
        both = max(abs(one), abs(other))
        return one == other or (one != one and other != other) or abs(one - other) <= within * both
    if np.array_equal(one, other, equal_nan=True):
        return True
    return within > 0 and bool(np.allclose(one, other, rtol=within, atol=0.0, equal_nan=True))


def _fields(record: Any) -> tuple[Any, ...]:
    return fields(record)


def _is_number(name: str, value: Any) -> bool:
    return name not in ALIKE and not isinstance(value, (str, bool, tuple)) and value is not None


def _numbers(record: Any) -> Iterator[tuple[str, Any]]:
    for field in _fields(record):
        value = getattr(record, field.name)
        if _is_number(field.name, value):
            yield field.name, value


def _value(itinerary: Itinerary, key: Number) -> Any:
    at, side, name = key
    return getattr(itinerary.passages[at][side], name)


def _entries(record: Any) -> list[tuple[str, Any]]:
    return [(field.name, getattr(record, field.name)) for field in fields(record)]


def same(name: str, value: object) -> bool:
    """Whether a field is one of which all lanes have the same."""
    return name in ALIKE or isinstance(value, (str, bool, tuple))


def _trait(name: str, value: Any) -> Any:
    if isinstance(value, np.ndarray) and same(name, value):
        return value.tobytes()
    # A zero switches a filter off; beside one that is on it would cost all lanes its grid.
    return value if same(name, value) else bool(np.all(np.equal(value, 0.0)))


def _stacked(records: Sequence[Any], each: int) -> Any:
    """One part or stream for all cases, each number once for every lane of its case."""
    distinct = {id(one): one for one in records}
    places = {key: at for at, key in enumerate(distinct)}
    which = np.array([places[id(one)] for one in records])
    first, numbers = records[0], dict[str, Any]()
    for name, value in _entries(first):
        if name not in ASIDE and not same(name, value):
            values = [getattr(one, name) for one in distinct.values()]
            if each > 1 or not all(isinstance(one, float) for one in values):
                values = [np.broadcast_to(one, (each,)) for one in values]
            numbers[name] = np.array(values, dtype=float)[which].reshape(-1)
    return without_numbers(first, numbers)


def without_numbers(record: Any, numbers: Mapping[str, FloatArray]) -> Any:
    """The record with numbers of many lanes, and without those that each case has for itself."""
    aside = {name: float("nan") for name, _ in _entries(record) if name in ASIDE}
    return replace(record, **{**numbers, **aside})
