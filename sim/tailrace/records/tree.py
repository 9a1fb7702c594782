"""A file in netCDF's layout as a tree in memory, straight from HDF5: what xarray opens, sooner."""

from collections.abc import Iterator
from typing import Any

import h5py
import numpy as np
from xarray import Dataset, DataTree, Variable
from xarray.conventions import decode_cf_variables

NETCDF = frozenset(
    (
        *("CLASS", "NAME", "REFERENCE_LIST", "DIMENSION_LIST"),
        *("_Netcdf4Dimid", "_Netcdf4Coordinates", "_NCProperties"),
    )
)
"""Attributes that tie variables to their dimensions, which have names in xarray, or say who wrote
the file (Unidata, NetCDF-4 format specification)."""
BARE = b"This is a netCDF dimension but not a netCDF variable"
"""How the name of a dimension without values begins."""


def tree_in(file: h5py.File) -> DataTree:
    """All that an open file holds. Raises OSError, RuntimeError, ValueError, KeyError or TypeError
    where it is damaged."""
    return DataTree.from_dict(dict(_groups(file)))


def _groups(group: h5py.Group) -> Iterator[tuple[str, Dataset]]:
    inside = dict(group.items())  # in the order in which they were written
    yield group.name, _dataset(group, inside)
    for inner in inside.values():
        if isinstance(inner, h5py.Group):
            yield from _groups(inner)


def _dataset(group: h5py.Group, inside: dict[str, Any]) -> Dataset:
    variables = {
        name: Variable(_dimensions(held), _values(held), _attributes(held), fastpath=True)
        for name, held in inside.items()
        if isinstance(held, h5py.Dataset) and not held.attrs.get("NAME", b"").startswith(BARE)
    }
    decoded, attributes, coordinates = decode_cf_variables(variables, _attributes(group))
    made = Dataset(decoded, attrs=attributes)
    return made.set_coords(coordinates & made.data_vars.keys())


def _dimensions(held: h5py.Dataset) -> tuple[str, ...]:
    """Names, those of the variables that hold the places along each of its axes."""
    axes = held.attrs.get("DIMENSION_LIST")  # only what holds places itself has none
    holders = [held] * held.ndim if axes is None else [held.file[axis[0]] for axis in axes]
    return tuple(str(one.name).rpartition("/")[2] for one in holders)


def _values(held: h5py.Dataset) -> Any:
    text = h5py.check_string_dtype(held.dtype) is not None
    return np.asarray((held.asstr() if text else held)[()], dtype=str if text else None)


def _attributes(holder: Any) -> dict[str, Any]:
    """An attribute of one element as that element, and of several texts as a list."""
    found = {name: value for name, value in holder.attrs.items() if name not in NETCDF}
    for name, value in found.items():
        if isinstance(value, np.ndarray):
            several = value.tolist() if value.dtype.kind == "O" else value
            found[name] = several[0] if len(value) == 1 else several
    return found
