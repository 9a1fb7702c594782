"""Numbers laid upon a checked scenario, and how a field is found again in a changed one."""

from collections.abc import Sequence
from typing import Any, TypeAlias

from tailrace.scenario.model import Document
from tailrace.scenario.problems import Place

Where: TypeAlias = tuple[str, str, str]
"""Table, name of the part or solute (empty where the table has none) and key of a field."""


def with_numbers(document: Document, places: Sequence[Place], values: Sequence[float]) -> Document:
    """A checked document with other numbers, in SI units of the fields, not checked again."""
    tables: dict[Place, dict[str, float]] = {}
    for (*table, key), value in zip(places, values, strict=True):
        tables.setdefault(tuple(table), {})[str(key)] = value
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
