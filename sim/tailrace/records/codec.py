"""One codec: any described dataclass as an xarray tree with units, or as plain JSON, and back.

How a field is laid out follows from its type and its description, and it is read back by the same:

- numbers, texts and arrays are variables, along the dimensions that the description names;
- a dataclass is a group; a tuple of dataclasses is a group with a table, a column for each field,
  and a numbered group for what of a row is no column: a band, a table of its own;
- a dict of arrays whose keys are described is a group with a variable for each (a slash in a key
  makes a group within); any other dict of numbers or arrays is one variable along its keys;
- a band is a group with its times; None is left out; what is plain but ragged is a text of JSON.

Fields without a description are not stored. No number is stored without a unit.
"""

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields
from typing import Any, get_args, get_origin

import numpy as np
import xarray

from tailrace.quantities.described import Description, descriptions
from tailrace.records.layout import (
    alike,
    as_text,
    dimensions,
    from_text,
    hints_of,
    nothing,
    numbered,
    safe,
    shape_in_row,
    shape_of,
)
from tailrace.signals.band import Band

THERE = "has_"
"""Before the name of a column that some rows lack: 1 where a row has it."""
UNITS = "_units"
"""Behind the name of a column whose rows have units of their own."""
VARYING = "as in each row"
ROWS = "rows"
TIMES = Description(meaning="time from the start of the injection", unit="s")
BAND = {
    "values": Description(meaning="amount per time, over the amount injected", unit="1/s"),
    "start": Description(meaning="time of the first sample, from the injection", unit="s"),
    "step": Description(meaning="time between two samples", unit="s"),
}


@dataclass
class _Group:
    """A group under way."""

    variables: dict[str, Any] = field(default_factory=dict)
    coordinates: dict[str, Any] = field(default_factory=dict)
    attributes: dict[str, Any] = field(default_factory=dict)
    groups: dict[str, "_Group"] = field(default_factory=dict)

    def within(self, name: str) -> "_Group":
        """The group of this name, made where it is not there yet; a slash goes deeper."""
        here = self
        for one in name.split("/"):
            here = here.groups.setdefault(one, _Group())
        return here

    def add(self, name: str, dims: Any, values: Any, description: Description, unit: str) -> None:
        """A variable; of numbers with a unit, which is demanded here."""
        values = np.asarray(values)
        if values.dtype.kind in "USO":
            # of nothing xarray could not tell that it is text
            values = np.array(values.tolist(), dtype=object if values.size else "U1")
            unit = ""
        elif values.dtype.kind == "b":
            values = values.astype(np.int8)
        if values.dtype.kind in "biuf" and not unit:
            raise ValueError(f"{name}: expected a unit in its description, found none")
        attributes = {"units": unit, "long_name": description.meaning}
        (self.coordinates if description.names else self.variables)[name] = (
            dims,
            values,
            attributes,
        )

    def datasets(self, path: str = "/") -> dict[str, xarray.Dataset]:
        """Every group as a dataset, by its path."""
        found = {path: xarray.Dataset(self.variables, self.coordinates, self.attributes)}
        for name, group in self.groups.items():
            found |= group.datasets(f"{path.rstrip('/')}/{name}")
        return found


def as_tree(value: object, attributes: Mapping[str, Any] | None = None, **beside: object) -> Any:
    """Lay a described dataclass out as a tree.

    ``attributes``: of the root; ``**beside``: more described values, each a group of its name; None
    is left out.
    """
    root = _Group(attributes=dict(attributes or {}))
    _put_fields(root, value)
    for name, one in beside.items():
        if isinstance(one, Mapping):
            _put_keyed_records(root.within(name), one)
        elif one is not None:
            _put_fields(root.within(name), one)
    return xarray.DataTree.from_dict(root.datasets())


def from_tree(kind: Any, tree: Any, given: Mapping[str, object] | None = None) -> Any:
    """Read a described dataclass back.

    ``kind``: of the dataclass, or ``dict[str, ...]`` of dataclasses; ``given``: fields that are not
    stored. A field that is neither stored nor given has its default. Raises KeyError,
    ValueError or TypeError where the tree is not that of such a dataclass.
    """
    view = _View(tree)
    if get_origin(kind) is dict:
        return _keyed_records(get_args(kind)[1], view)
    return _restored(kind, view, dict(given or {}))


# --- writing ---------------------------------------------------------------------------------


def _put_fields(group: _Group, record: Any) -> None:
    kind: Any = type(record)
    hints = hints_of(kind)
    for name, description in descriptions(record).items():
        value = getattr(record, name)
        if value is not None:
            _put(group, name, value, hints[name][0], description, description.unit_in(record))


def _put(
    group: _Group, name: str, value: Any, hint: Any, description: Description, unit: str
) -> None:
    shape = shape_of(hint, description)
    if shape == "record":
        _put_fields(group.within(safe(name)), value)
    elif shape == "rows":
        _put_rows(group.within(safe(name)), value, get_args(hint)[0], description.along or (name,))
    elif shape == "band":
        _put_band(group.within(safe(name)), value, description)
    elif shape == "entries":
        assert description.entries is not None
        for key, one in value.items():
            entry = description.entries(key)
            above, _, last = key.rpartition("/")
            held = group.within(f"{name}/{above}" if above else name)
            lanes = dimensions(last, np.ndim(one), entry.along or description.along)
            held.add(last, lanes, one, entry, entry.unit_in(one))
    elif shape == "keyed records":
        _put_keyed_records(group.within(safe(name)), value)
    elif shape == "keyed":
        along, *inner = description.along or (f"{name}_of",)
        places = Description(meaning=along.replace("_", " "), unit="", names=True)
        if along not in group.coordinates:
            group.add(along, (along,), list(value), places, "")
        elif group.coordinates[along][1].tolist() != list(value):
            raise ValueError(f"{name}: expected the keys of its neighbours along {along}")
        rows = [np.asarray(one, dtype=float) for one in value.values()]
        dims = dimensions(name, 1 + np.ndim(rows[0]) if rows else 1, (along, *inner))
        group.add(name, dims, rows, description, unit)
    else:
        values = as_text(value) if shape == "plain" else value
        if shape == "texts":
            values = np.array(value, dtype=object)
        where = description.along[0] if description.names and description.along else name
        group.add(
            where, dimensions(where, np.ndim(values), description.along), values, description, unit
        )


def _put_keyed_records(group: _Group, records: Mapping[str, Any]) -> None:
    for index, (key, one) in enumerate(records.items()):
        inner = group.within(numbered(index, key))
        inner.attributes["key"] = key
        _put_fields(inner, one)


def _put_band(group: _Group, band: Band, description: Description) -> None:
    lane, sample = description.along or ("solute", "sample")
    for name, inner in BAND.items():
        dims = (lane, sample) if name == "values" else (lane,)
        group.add(name, dims, getattr(band, name), inner, str(inner.unit))
    attributes = {"units": TIMES.unit, "long_name": TIMES.meaning}
    group.coordinates["time"] = ((lane, sample), band.times, attributes)


def _put_rows(group: _Group, rows: Any, kind: type, along: tuple[str, ...]) -> None:
    group.attributes[ROWS] = len(rows)
    if not rows:
        return
    label = next(
        (name for name, description in descriptions(kind).items() if description.names), None
    )
    names = [
        numbered(index, getattr(one, label) if label else "") for index, one in enumerate(rows)
    ]
    _put_columns(group, rows, kind, along[0], "", names)


def _put_columns(
    group: _Group, rows: Any, kind: type, along: str, prefix: str, names: list[str]
) -> None:
    hints = hints_of(kind)
    for name, description in descriptions(kind).items():
        hint, lacking = hints[name]
        values = [getattr(one, name) for one in rows]
        there = [one is not None for one in values]
        column = f"{prefix}{name}"
        if lacking:
            about = Description(meaning=f"1 where there is: {description.meaning}")
            group.add(f"{THERE}{column}", (along,), np.array(there), about, "1")
        held = [one for one in values if one is not None]
        shape = shape_in_row(hint, description)
        if not held:
            continue
        if shape == "record" and all(there):
            _put_columns(group, held, hint, along, f"{column}_", names)
        elif shape in ("scalar", "plain") or (
            shape in ("array", "numbers") and alike(held) and all(there)
        ):
            empty = nothing(hint) if shape == "scalar" else "null"
            filled = [empty if one is None else one for one in values]
            units = [description.unit_in(one) for one in rows]
            _put_column(group, column, along, filled, description, units, shape)
        else:
            for place, one, row in zip(names, values, rows, strict=True):
                if one is not None:
                    _put(
                        group.within(place),
                        column,
                        one,
                        hint,
                        description,
                        description.unit_in(row),
                    )


def _put_column(
    group: _Group,
    name: str,
    along: str,
    values: list[Any],
    description: Description,
    units: list[str],
    shape: str,
) -> None:
    if shape == "plain":
        values = [as_text(one) if one != "null" else one for one in values]
    unit = units[0] if len(set(units)) == 1 else VARYING
    if description.names:
        name = along
    dims = (along, *dimensions(name, np.ndim(values) - 1, description.along))
    group.add(name, dims, values, description, unit)
    if unit == VARYING:
        about = Description(meaning=f"unit of: {description.meaning}", unit="")
        group.add(f"{name}{UNITS}", (along,), units, about, "")


# --- reading ---------------------------------------------------------------------------------


class _View:
    """A group of a tree, its variables read once.

    A coordinate that the group shares with one above it stands only there.
    """

    def __init__(self, tree: Any) -> None:
        self.tree = tree
        self.data = tree.to_dataset(inherit=True)

    def __contains__(self, name: str) -> bool:
        return name in self.data.variables

    def values(self, name: str) -> Any:
        """Of a variable; of texts as str."""
        values = self.data.variables[name].values
        if values.dtype.kind in "OUS":
            return np.array([str(one) for one in values.ravel()], dtype=object).reshape(
                values.shape
            )
        return values

    def group(self, name: str) -> "_View | None":
        """The group of this name; None where there is none."""
        here = self.tree
        for one in name.split("/"):
            if one not in here.children:
                return None
            here = here.children[one]
        return _View(here)

    def groups(self) -> "list[_View]":
        """All groups within, in the order of their names."""
        return [_View(self.tree.children[name]) for name in sorted(self.tree.children)]


def _restored(kind: type, view: _View, given: dict[str, object]) -> Any:
    hints = hints_of(kind)
    values: dict[str, object] = {}
    defaults = {one.name for one in fields(kind) if one.default is not MISSING}
    for name, description in descriptions(kind).items():
        if name in given:
            continue
        hint, lacking = hints[name]
        found = _read(view, name, hint, description)
        if found is _MISSING:
            if name in defaults:
                continue
            if not lacking and shape_of(hint, description) != "entries":
                raise KeyError(name)
            found = None if lacking else {}
        values[name] = found
    return kind(**values, **given)


_MISSING = object()


def _read(view: _View, name: str, hint: Any, description: Description) -> Any:
    shape = shape_of(hint, description)
    if shape in ("record", "rows", "band", "entries", "keyed records"):
        inner = view.group(safe(name))
        if inner is None:
            return _MISSING
        if shape == "record":
            return _restored(hint, inner, {})
        if shape == "band":
            return Band(*(np.array(inner.values(one)) for one in BAND))
        if shape == "rows":
            return _rows(get_args(hint)[0], inner, (description.along or (name,))[0])
        if shape == "keyed records":
            return _keyed_records(get_args(hint)[1], inner)
        return _entries(inner, "")
    where = description.along[0] if description.names and description.along else name
    if where not in view:
        return _MISSING
    values = view.values(where)
    if shape == "keyed":
        keys = view.values((description.along or (f"{name}_of",))[0])
        whole = get_args(hint)[1] is float
        return {
            str(key): float(one) if whole else one for key, one in zip(keys, values, strict=True)
        }
    return _value(hint, values if values.ndim else values.item(), shape)


def _entries(view: _View, above: str) -> dict[str, Any]:
    found = {f"{above}{name}": view.values(str(name)) for name in view.data.data_vars}
    for name in view.tree.children:
        found |= _entries(_View(view.tree.children[name]), f"{above}{name}/")
    return found


def _keyed_records(kind: Any, view: _View) -> dict[str, Any]:
    return {str(one.data.attrs["key"]): _restored(kind, one, {}) for one in view.groups()}


def _rows(kind: type, view: _View, along: str) -> tuple[Any, ...]:
    count = int(view.data.attrs[ROWS])
    inner = {int(one.tree.name[:3]): one for one in view.groups()}
    columns = {str(name): view.values(str(name)) for name in view.data.variables}
    return tuple(_row(kind, columns, along, "", row, inner.get(row)) for row in range(count))


def _row(
    kind: type, columns: dict[str, Any], along: str, prefix: str, row: int, inner: _View | None
) -> Any:
    hints = hints_of(kind)
    values: dict[str, object] = {}
    for name, description in descriptions(kind).items():
        hint, lacking = hints[name]
        column = f"{prefix}{name}"
        stored = along if description.names else column
        if lacking and not columns[f"{THERE}{column}"][row]:
            values[name] = None
        elif shape_of(hint, description) == "record" and (
            inner is None or inner.group(column) is None
        ):
            values[name] = _row(hint, columns, along, f"{column}_", row, inner)
        elif stored in columns:
            values[name] = _value(hint, columns[stored][row], shape_in_row(hint, description))
        else:
            found = _MISSING if inner is None else _read(inner, column, hint, description)
            if found is _MISSING:
                raise KeyError(column)
            values[name] = found
    return kind(**values)


def _value(hint: Any, value: Any, shape: str) -> Any:
    """A stored value as its type has it."""
    if shape == "plain":
        return from_text(hint, value)
    if shape == "scalar":
        return hint(value) if hint in (bool, int, float, str) else value
    if shape == "texts":
        return tuple(str(one) for one in np.atleast_1d(value))
    if shape == "numbers":
        return tuple(get_args(hint)[0](one) for one in np.atleast_1d(value))
    kinds = get_args(get_args(hint)[1]) if len(get_args(hint)) > 1 else ()
    wanted = kinds[0] if kinds and isinstance(kinds[0], type) else None
    return np.asarray(value) if wanted is None else np.asarray(value, dtype=wanted)
