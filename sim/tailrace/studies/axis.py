"""What is varied and over which values: ``tube.length = 50 mm .. 1 m, 40 points``."""

import re
from dataclasses import dataclass

import numpy as np

from tailrace.errors import QuantityError
from tailrace.quantities.kinds import kind_named
from tailrace.quantities.parse import NUMBER, parse, shortened
from tailrace.scenario.problems import unknown
from tailrace.scenario.target import StudyError, Target, target

MOST_POINTS = 10_000
POINTS = re.compile(r"([0-9]{1,9}) *points?")
FORM = "a list such as 0.1, 0.3, 1 mL/min or a range such as 50 mm .. 1 m, 40 points"


@dataclass(frozen=True, kw_only=True)
class Axis:
    """One field and the values that it takes.

    Parameters
    ----------
    target : Target
    values : (points,) array, ``unit`` or words
    unit : str
        SI unit; "1" of a plain number, "" of words.
    written : tuple
        Each value as a scenario file would hold it.
    """

    target: Target
    values: np.ndarray
    unit: str
    written: tuple

    @property
    def name(self) -> str:
        """As it is called in results: ``inlet tube.length``."""
        return self.target.name

    def __len__(self) -> int:
        """Number of values."""
        return len(self.values)


def axis(document, text) -> Axis:
    """Read one axis.

    Parameters
    ----------
    document : dict
        The scenario file as ``tomllib`` reads it; a sound one.
    text : str
        ``TARGET = A, B, C UNIT`` or ``TARGET = A .. B UNIT, N points`` with ``, log`` for values
        that stand in equal ratios. A number without a unit has that of the last one.

    Returns
    -------
    Axis

    Raises
    ------
    StudyError
        In one sentence: the field, what was expected, what was found, what to write.
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
        written = tuple(_word(field, piece) for piece in pieces)
        values, unit = np.array(pieces), ""
    else:
        values = _range(field, pieces) if ".." in tail else _list(field, pieces)
        unit = "1" if field.kind == "number" else kind_named(field.kind).unit
        written = tuple(_in_file(field, value) for value in values)
    if len(set(values.tolist())) < len(values):
        raise StudyError(f"{field.name}: expected values that differ, found one twice; remove it")
    return Axis(target=field, values=values, unit=unit, written=written)


def _halves(text):
    """Split at the first = that no quotes hold."""
    match = re.match(r"""((?:"[^"]*"|'[^']*'|[^"'=])*)(=)(.*)""", text, re.DOTALL)
    return match.groups() if match else (text, "", "")


def _word(field, piece):
    """A word as the file holds it: true and false are no texts there."""
    if field.words and piece not in field.words:
        raise StudyError(f"{field.name}: {unknown('value', piece, field.words)}")
    return {"true": True, "false": False}.get(piece, piece) if field.words else piece


def _list(field, pieces):
    unit = _unit(pieces[-1])
    return np.array([_number(field, piece, unit) for piece in pieces])


def _range(field, pieces):
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


def _unit(piece):
    """What stands behind the number of a piece; empty where nothing does."""
    match = re.match(NUMBER, piece.strip())
    return piece.strip()[match.end() :].strip() if match else ""


def _number(field, piece, unit):
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


def _in_file(field, value):
    # The shortest digits that give this very float, in SI, are read back as the same float.
    number = float(value)
    return number if field.kind == "number" else f"{number!r} {kind_named(field.kind).unit}"
