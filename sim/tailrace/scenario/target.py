"""Which field is meant by a name such as ``"inlet tube".length``, and numbers laid upon fields."""

import math
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias, get_args, get_origin

from pydantic.fields import FieldInfo

from tailrace.errors import TailraceError
from tailrace.quantities.fields import Quantity, Table
from tailrace.quantities.kinds import KINDS
from tailrace.quantities.parse import shortened
from tailrace.scenario.changed import FIXED, STATED
from tailrace.scenario.model import (
    LIQUID_NAMES,
    PART_TABLES,
    SHAPE_TABLES,
    DetectorTable,
    Document,
    EluentTable,
    GradientTable,
    MethodTable,
    SoluteTable,
)
from tailrace.scenario.problems import Place, Tables, unknown

NAME = r"""\s*(?:"[^"]*"|'[^']*'|[^."'=]+)\s*"""
DOTTED = re.compile(rf"{NAME}(?:\.{NAME})*")
ELUENT = ("method", "eluent")
LISTS = {"path": "part", "solutes": "solute"}


class StudyError(TailraceError):
    """What is to be varied cannot be varied so; the message says what to write."""


@dataclass(frozen=True, kw_only=True)
class Target:
    """One field of a scenario.

    Parameters
    ----------
    name : str
        As it is called in results: ``inlet tube.length``.
    place : tuple of str and int
        The keys that lead to it in the file; positions in lists count from 0.
    kind : str
        The kind of quantity, or ``number``, ``words`` or ``text``.
    words : tuple of str
        What a field of words may say.
    bounds : tuple of two float, SI unit of the field
        Hard bounds of a number.
    """

    name: str
    place: Place
    kind: str
    words: tuple[str, ...] = ()
    bounds: tuple[float, float] = (-math.inf, math.inf)


def target(document: Tables, text: str) -> Target:
    """Find the field that a text names in a sound document.

    ``method.flow``, ``"inlet tube".length``, ``cohumulone.retention_factor``; with ``path.`` or
    ``solutes.`` in front where the name is also that of a table. Raises StudyError: no such table,
    part, solute or key, with the nearest one; or one that stays as it is.
    """
    if DOTTED.fullmatch(text) is None:
        raise StudyError(
            f"{shortened(text)}: expected names joined by points such as method.flow or "
            '"inlet tube".length, found something else; put a name that holds points or quotes '
            "into quotes"
        )
    names = [one.strip().strip("\"'") for one in re.findall(NAME, text)]
    key, label = names[-1], ".".join(names)
    found = _tables(document, names[:-1], text.strip())
    # A part and a solute of the same name have no key in common but the name.
    place, table = next((one for one in found if key in one[1].model_fields), found[0])
    known = [name for name in table.model_fields if name not in (*FIXED, "eluent", "programme")]
    if key in FIXED:
        raise StudyError(
            f"{label}: expected {key} to stay as it is, found it varied; vary {' or '.join(known)}"
        )
    if key not in known:
        raise StudyError(f"{label}: {unknown('key', key, known)}")
    kind, words = field_kind(table.model_fields[key])
    bounds = field_bounds(table.model_fields[key], kind)
    return Target(name=label, place=(*place, key), kind=kind, words=words, bounds=bounds)


def called(document: Tables, name: str) -> Target:
    """The field of a ``Target.name``, which has no quotes though a part's name may hold points."""
    try:
        return target(document, name)
    except StudyError as error:
        head, _, key = name.rpartition(".")
        try:
            return target(document, f'"{head}".{key}')
        except StudyError:
            raise error from None


def _tables(document: Tables, names: list[str], text: str) -> list[tuple[Place, type[Table]]]:
    """Place and model of each table that the names lead to; one or more."""
    ends: dict[tuple[str, ...], type[Table]] = {
        ("method",): MethodTable,
        ("method", "eluent"): EluentTable,
        ("injection",): SHAPE_TABLES[document["injection"]["shape"]],
        ("detector",): DetectorTable,
    }
    if "gradient" in document:
        ends["gradient",] = GradientTable
    if tuple(names) in ends:
        return [(tuple(names), ends[tuple(names)])]
    listed = [(key, one["name"], index) for key in LISTS for index, one in enumerate(document[key])]
    if len(names) == 2 and names[0] in LISTS:
        found = [(key, index) for key, name, index in listed if [key, name] == names]
    else:
        found = [(key, index) for key, name, index in listed if [name] == names]
    if not found:
        raise StudyError(f"{text}: {_unknown(names, listed, ends)}")
    return [
        (
            (key, index),
            SoluteTable if key == "solutes" else PART_TABLES[document[key][index]["part"]],
        )
        for key, index in found
    ]


def _unknown(
    names: list[str], listed: list[tuple[str, str, int]], ends: Collection[tuple[str, ...]]
) -> str:
    if not names:
        return "expected a name and a key such as method.flow, found one name; put both"
    if len(names) == 2 and names[0] in LISTS:
        key = names[0]
        return unknown(LISTS[key], names[1], [name for which, name, _ in listed if which == key])
    known = {*(name for _, name, _ in listed), *(".".join(one) for one in ends)}
    return unknown("table, part or solute", ".".join(names), known)


def field_kind(field: FieldInfo) -> tuple[str, tuple[str, ...]]:
    """The kind of a field, and the words that it may say."""
    options = (field.annotation, *get_args(field.annotation))
    marks = [*field.metadata]
    for option in options:
        marks += getattr(option, "__metadata__", ())
        if get_origin(option) is Literal:
            return "words", get_args(option)
    for mark in marks:
        if isinstance(mark, Quantity):
            return mark.kind, ()
    if bool in options:
        return "words", ("true", "false")
    return ("number", ()) if float in options else ("text", ())


def field_bounds(field: FieldInfo, kind: str) -> tuple[float, float]:
    """Least and greatest value of a number; its open bounds count as closed ones."""
    if kind in KINDS:
        return KINDS[kind].lowest, KINDS[kind].greatest
    found = {
        key: getattr(mark, key)
        for mark in field.metadata
        for key in ("ge", "gt", "le", "lt")
        if getattr(mark, key, None) is not None
    }
    low = found.get("ge", found.get("gt", -math.inf))
    return float(low), float(found.get("le", found.get("lt", math.inf)))


Where: TypeAlias = tuple[str, str, str]
"""Table, name of the part or solute (empty where the table has none) and key of a field."""


def with_numbers(document: Document, places: Sequence[Place], values: Sequence[float]) -> Document:
    """A checked document with other numbers, in SI units of the fields, not checked again."""
    tables: dict[Place, dict[str, float]] = {}
    for (*table, key), value in zip(places, values, strict=True):
        new = tables.setdefault(tuple(table), {})
        if table == list(ELUENT) and key in LIQUID_NAMES:
            new |= document.method.eluent.with_share(str(key), value)
            if document.method.stated_strong is None:
                strong = 1 - document.method.eluent.water
                tables.setdefault(ELUENT[:1], {})["stated_strong"] = strong
            continue
        new[str(key)] = value
        if table == ["method"] or table[0] == "path":
            holder = getattr(document, str(table[0]))
            holder = holder[table[1]] if isinstance(table[-1], int) else holder
            stated = STATED.get(str(key), "")
            if stated in type(holder).model_fields and getattr(holder, stated) is None:
                new.setdefault(stated, getattr(holder, str(key)))
    update: dict[str, Any] = {}
    for (head, *rest), new in tables.items():
        name = str(head)
        holder = update.get(name, getattr(document, name))
        if not rest:
            update[name] = holder.model_copy(update=new)
        elif isinstance(rest[0], int):
            listed = list(holder)
            listed[rest[0]] = listed[rest[0]].model_copy(update=new)
            update[name] = listed
        else:
            inner = getattr(holder, rest[0]).model_copy(update=new)
            update[name] = holder.model_copy(update={rest[0]: inner})
    return document.model_copy(update=update)


def where_is(document: Document, place: Place) -> Where:
    """A place by the name of its part or solute, which a changed scenario may have elsewhere."""
    *table, key = place
    if len(table) == 2 and isinstance(table[1], int):
        return str(table[0]), getattr(document, str(table[0]))[table[1]].name, str(key)
    return ".".join(map(str, table)), "", str(key)


def place_of(document: Document, where: Where) -> Place | None:
    """The place in this document of what ``where_is`` said of another; None where it has none."""
    table, name, key = where
    if not name:
        holder: Any = document
        for step in table.split("."):
            holder = getattr(holder, step, None)
        return (*table.split("."), key) if hasattr(holder, key) else None
    found = [index for index, one in enumerate(getattr(document, table)) if one.name == name]
    if not found or not hasattr(getattr(document, table)[found[0]], key):
        return None
    return (table, found[0], key)


def number_at(document: Document, where: Where) -> float | None:
    """The number that stands there, in the SI unit of the field; None where nothing does."""
    place = place_of(document, where)
    return None if place is None else value_at(document, place)


def value_at(document: Document, place: Place) -> float | None:
    """The number at a place, in the SI unit of the field; None where nothing stands there."""
    holder: Any = document
    for step in place:
        holder = holder[step] if isinstance(step, int) else getattr(holder, step, None)
    return None if holder is None else float(holder)
