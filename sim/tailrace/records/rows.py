"""Frozen records as the rows of a table, and back: a variable for each of their figures."""

import types
from dataclasses import dataclass, fields, is_dataclass
from typing import get_args, get_origin, get_type_hints

import numpy as np

THERE = "has_"
"""Before the name of something that a row may lack: 1 where it has it."""


@dataclass(frozen=True)
class Column:
    """One variable of a table.

    Parameters
    ----------
    name : str
        What lies within something goes by both names: ``spread_mean``; of several without names,
        by their numbers: ``stated_0_low``.
    values : (rows, ...) array, any unit
        What a row lacks is NaN, -1 of a count, an empty text.
    """

    name: str
    values: np.ndarray


def as_columns(rows, leave=()) -> list[Column]:
    """Lay records of one kind out as a table.

    Parameters
    ----------
    rows : sequence of dataclass instances
        Of numbers, texts, arrays of like shape, and of records and tuples of these.
    leave : sequence of str
        Fields that are left out.
    """
    flat = [dict(_flattened(one, "", leave)) for one in rows]
    names = {name: value for one in reversed(flat) for name, value in reversed(one.items())}
    return [Column(name, _stacked(name, flat)) for name in reversed(names)]


def as_rows(kind, columns, given=None) -> tuple:
    """Read records back.

    Parameters
    ----------
    kind : type
        Of the records.
    columns : dict of str to (rows, ...) array
    given : sequence of dict, optional
        For each row the fields that were left out.

    Returns
    -------
    tuple of ``kind``
    """
    count = len(next(iter(columns.values()))) if columns else 0
    given = given or [{}] * count
    return tuple(
        _restored(kind, {name: values[row] for name, values in columns.items()}, "", given[row])
        for row in range(count)
    )


def _flattened(record, prefix, leave=()):
    hints = get_type_hints(type(record))
    for field in fields(record):
        if field.name in leave:
            continue
        name, value = f"{prefix}{field.name}", getattr(record, field.name)
        if get_origin(hints[field.name]) is types.UnionType:  # something or None
            yield f"{THERE}{name}", value is not None
        if value is not None:
            yield from _entry(name, value)


def _entry(name, value):
    if is_dataclass(value):
        yield from _flattened(value, f"{name}_")
    elif isinstance(value, dict):
        for key, one in value.items():
            yield f"{THERE}{name}_{key}", True
            yield from _entry(f"{name}_{key}", one)
    elif isinstance(value, tuple):
        for key, one in enumerate(value):
            yield from _entry(f"{name}_{key}", one)
    else:
        yield name, value


def _stacked(name, flat):
    sample = next(one[name] for one in flat if name in one)
    if isinstance(sample, str):
        return np.array([one.get(name, "") for one in flat], dtype=object)
    if isinstance(sample, (bool, np.bool_)):
        return np.array([one.get(name, False) for one in flat], dtype=np.int8)
    if isinstance(sample, (int, np.integer)):
        return np.array([one.get(name, -1) for one in flat], dtype=np.int64)
    whole = np.float64 if np.asarray(sample).dtype.kind == "f" else np.int64
    none = np.full(np.shape(sample), np.nan if whole is np.float64 else -1)
    return np.array([one.get(name, none) for one in flat], dtype=whole)


def _restored(kind, row, prefix, given):
    hints = get_type_hints(kind)
    values = {
        field.name: _value(hints[field.name], row, f"{prefix}{field.name}")
        for field in fields(kind)
        if field.name not in given
    }
    return kind(**values, **given)


def _value(hint, row, name):
    if get_origin(hint) is types.UnionType:
        hint = next(one for one in get_args(hint) if one is not types.NoneType)
        return _value(hint, row, name) if row.get(f"{THERE}{name}") else None
    if is_dataclass(hint):
        return _restored(hint, row, f"{name}_", {})
    if get_origin(hint) is dict:
        keys = [one.removeprefix(f"{THERE}{name}_") for one in row if _is_key(one, name, row)]
        return {key: _value(get_args(hint)[1], row, f"{name}_{key}") for key in keys}
    if get_origin(hint) is tuple:
        return tuple(_value(one, row, f"{name}_{key}") for key, one in enumerate(get_args(hint)))
    return row[name] if hint is np.ndarray else hint(row[name])


def _is_key(column, name, row):
    """Whether a column says that a row has an entry in the dict of this name."""
    before = f"{THERE}{name}_"
    inner = column.removeprefix(before)
    return column.startswith(before) and "_" not in inner and bool(row[column])
