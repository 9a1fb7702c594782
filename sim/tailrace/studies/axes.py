"""What is varied, over which values, and the cases that follow.

``tube.length = 50 mm .. 1 m, 40 points`` is an axis; a case takes one value of each.
"""

import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tailrace.errors import BudgetError, QuantityError
from tailrace.quantities.arrays import AnyArray, FloatArray
from tailrace.quantities.kinds import kind_named, plain, show
from tailrace.quantities.parse import NUMBER, parse, shortened
from tailrace.scenario.changed import OF_THE_START, remade, with_values
from tailrace.scenario.problems import unknown
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError, Target, target

MOST_CASES, MOST_BUILT = 1_000_000, 20_000
"""Of a sweep; and of one whose cases have to be built one by one."""
MOST_POINTS = 10_000
LEAST = 1e-3
"""Of a unit, which a value has that is told in it."""
POINTS = re.compile(r"([0-9]{1,9}) *points?")
FORM = "a list such as 0.1, 0.3, 1 mL/min or a range such as 50 mm .. 1 m, 40 points"


@dataclass(frozen=True, kw_only=True)
class Axis:
    """One field and the values that it takes.

    Parameters
    ----------
    values : (points,) array, ``unit`` or words
    unit : str
        SI unit; "1" of a plain number, "" of words.
    written : tuple
        Each value as a scenario file would hold it.
    said : str
        The one unit in which all values were asked for; empty where there are several, or none.
    """

    target: Target
    values: AnyArray
    unit: str
    written: tuple[Any, ...]
    said: str = ""

    @property
    def name(self) -> str:
        """As it is called in results: ``inlet tube.length``."""
        return self.target.name

    def __len__(self) -> int:
        """Number of values."""
        return len(self.values)


def axis(document: dict[str, Any], text: str) -> Axis:
    """Read one axis.

    ``document``: the scenario file as ``tomllib`` reads it; a sound one. ``text``: ``TARGET = A, B,
    C UNIT`` or ``TARGET = A .. B UNIT, N points`` with ``, log`` for values that stand in equal
    ratios. A number without a unit has that of the last one. Raises StudyError in one sentence: the
    field, what was expected, what was found, what to write.
    """
    head, sign, tail = _halves(text)
    if not sign or not tail.strip():
        raise StudyError(
            f"{shortened(text)}: expected a field and its values, found no values; "
            f"write = and {FORM}"
        )
    field = target(document, head)
    pieces = [piece.strip() for piece in tail.split(",")]
    if field.kind in ("words", "text"):
        written = tuple[Any, ...](_word(field, piece) for piece in pieces)
        values, unit = np.array(pieces), ""
    else:
        values = numbers(field, tail)
        unit = "1" if field.kind == "number" else kind_named(field.kind).unit
        written = tuple(_in_file(field, value) for value in values)
    if len(set(values.tolist())) < len(values):
        raise StudyError(f"{field.name}: expected values that differ, found one twice; remove it")
    return Axis(target=field, values=values, unit=unit, written=written, said=_said(tail))


def _halves(text: str) -> tuple[str, str, str]:
    """Split at the first = that no quotes hold."""
    match = re.match(r"""((?:"[^"]*"|'[^']*'|[^"'=])*)(=)(.*)""", text, re.DOTALL)
    return (match[1], match[2], match[3]) if match else (text, "", "")


def _word(field: Target, piece: str) -> str | bool:
    """A word as the file holds it: true and false are no texts there."""
    if field.words and piece not in field.words:
        raise StudyError(f"{field.name}: {unknown('value', piece, field.words)}")
    return {"true": True, "false": False}.get(piece, piece) if field.words else piece


def numbers(field: Target, text: str) -> FloatArray:
    """The values of a text as behind the = of ``axis``, of a field that is no words.

    Returns
    -------
    (points,) array, SI unit of the field
    """
    pieces = [piece.strip() for piece in text.split(",")]
    return _range(field, pieces) if ".." in text else _list(field, pieces)


def _list(field: Target, pieces: list[str]) -> FloatArray:
    unit = _unit(pieces[-1])
    return np.array([_number(field, piece, unit) for piece in pieces])


def _range(field: Target, pieces: list[str]) -> FloatArray:
    ends, *options = pieces
    first, _, last = ends.partition("..")
    counts = [match for option in options if (match := POINTS.fullmatch(option))]
    logarithmic = "log" in options
    if len(counts) != 1 or len(options) != 1 + logarithmic:
        raise StudyError(
            f"{field.name}: expected a range such as 50 mm .. 1 m, 40 points (with, log where "
            f"values stand in equal ratios), found {shortened(', '.join(pieces))}; write it so"
        )
    count = int(counts[0][1])
    if not 2 <= count <= MOST_POINTS:
        raise StudyError(
            f"{field.name}: expected 2 to {MOST_POINTS} points, found {count}; change the number"
        )
    unit = _unit(last)
    low, high = (_number(field, end.strip(), unit) for end in (first, last))
    if logarithmic and not min(low, high) > 0:
        raise StudyError(
            f"{field.name}: expected a log range between numbers above zero, found "
            f"{shortened(ends)}; begin above zero or leave out log"
        )
    return np.geomspace(low, high, count) if logarithmic else np.linspace(low, high, count)


def _unit(piece: str) -> str:
    """What stands behind the number of a piece; empty where nothing does."""
    match = re.match(NUMBER, piece.strip())
    return piece.strip()[match.end() :].strip() if match else ""


def _said(tail: str) -> str:
    """The unit of all values; empty where they have several, or none."""
    pieces = [piece.strip() for piece in re.split(r",|\.\.", tail)]
    units = {_unit(piece) for piece in pieces if not POINTS.fullmatch(piece)} - {""}
    return units.pop() if len(units) == 1 else ""


def _number(field: Target, piece: str, unit: str) -> float:
    """A value in SI; ``unit`` stands in where the piece has none."""
    if field.kind == "number":
        if re.fullmatch(NUMBER, piece) is None or not np.isfinite(float(piece)):
            raise StudyError(
                f"{field.name}: expected a number without a unit, found {shortened(piece)}; "
                "write plain numbers"
            )
        return float(piece)
    try:
        return parse(piece if _unit(piece) else f"{piece} {unit}".strip(), field.kind)
    except QuantityError as error:
        raise StudyError(f"{field.name}: {error}") from None


def _in_file(field: Target, value: float) -> str | float:
    # The shortest digits that give this very float, in SI, are read back as the same float.
    number = float(value)
    return number if field.kind == "number" else f"{number!r} {kind_named(field.kind).unit}"


def axes_of(
    scenario: Scenario, vary: Sequence[str], together: bool = False, grid: bool = True
) -> tuple[Axis, ...]:
    """Read what is varied.

    ``vary``: one text for each field; see ``axis``. ``together``: true: the fields change in step.
    False: every value of one meets every value of the others; ``grid``: whether these are all to be
    cases. Raises StudyError or BudgetError for
    an axis that is wrong, a field that is varied twice, lists of unequal length that should go in
    step; for more than MOST_CASES cases.

    Returns
    -------
    tuple of Axis
    """
    if isinstance(vary, str) or not vary:
        raise StudyError("expected a list of fields to vary, found none; name one or more")
    axes = tuple(axis(scenario.tables, text) for text in vary)
    places = [one.target.place for one in axes]
    names = [one.name for one in axes]
    for index, name in enumerate(names):
        if places[index] in places[:index] or name in names[:index]:
            raise StudyError(f"{name}: expected each field once, found it again; join the lists")
    if together and len({len(one) for one in axes}) > 1:
        found = ", ".join(f"{one.name} {len(one)}" for one in axes)
        raise StudyError(f"expected as many values of each in step, found {found}; even them out")
    count = len(axes[0]) if together else 1
    for one in () if together else axes:
        count *= len(one)
    if grid and count > MOST_CASES:
        raise BudgetError(f"expected at most {MOST_CASES} cases, found {count}; use fewer points")
    return axes


def choices(axes: Sequence[Axis], together: bool = False) -> list[tuple[int, ...]]:
    """Positions on the axes, one tuple a case; the last axis changes fastest."""
    ranges = [range(len(one)) for one in axes]
    return list(zip(*ranges, strict=True) if together else itertools.product(*ranges))


def choice(axes: Sequence[Axis], together: bool, case: int) -> tuple[int, ...]:
    """Positions on the axes of one case."""
    if together:
        return (case,) * len(axes)
    return tuple(int(at) for at in np.unravel_index(case, [len(one) for one in axes]))


def described(axes: Sequence[Axis], choice: Sequence[int]) -> str:
    """A case in words: ``tube.length = 50 mm, method.flow = 0.1 mL/min``."""
    return ", ".join(
        f"{one.name} = {shown(one, index)}" for one, index in zip(axes, choice, strict=True)
    )


def shown(one: Axis, index: int) -> str:
    """One value of an axis as people write it."""
    value = one.values[index]
    if one.unit == "":
        return str(value)
    return plain(value) if one.unit == "1" else show(value, one.target.kind)


def as_asked(one: Axis, index: int) -> str:
    """The same in the unit in which it was asked for, where there is one for all."""
    size, value = size_of(one), one.values[index]
    handy = size and abs(value) >= LEAST * size
    return f"{plain(value / size)} {one.said}" if handy else shown(one, index)


def size_of(one: Axis) -> float:
    """Of the unit in which all values were asked for, in SI; 0 where there is none."""
    if not one.said or one.unit in ("", "1") or kind_named(one.target.kind).offset:
        return 0.0
    return parse(f"1 {one.said}", one.target.kind)


def cases_of(
    scenario: Scenario,
    axes: Sequence[Axis],
    together: bool = False,
    only: Sequence[int] | None = None,
) -> Iterator[Scenario]:
    """Each case, or some, as a scenario of its own, checked as strictly as a file.

    Raises ScenarioError with the case in front of what is wrong with it.
    """
    document = {key: value for key, value in scenario.tables.items() if key not in OF_THE_START}
    every = choices(axes, together) if only is None else (choice(axes, together, c) for c in only)
    for chosen in every:
        values = {
            one.target.place: one.written[index] for one, index in zip(axes, chosen, strict=True)
        }
        where = f"at {described(axes, chosen)}"
        yield remade(scenario, with_values(document, values), where)
