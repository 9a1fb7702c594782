"""A tree as a file in netCDF's layout and back, as xarray writes and opens it, but straight by
HDF5: that takes a fraction of the time."""

import io
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import Any

import h5netcdf
import h5py
import numpy as np
from xarray import Dataset, DataTree, Variable
from xarray.conventions import cf_encoder, decode_cf_variables, encode_dataset_coordinates

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


PACKED_FROM = 512
"""Numbers; smaller variables gain nothing by compression."""
PACKED = {"compression": "gzip", "compression_opts": 4, "shuffle": True}
DIMENSION, PLACES = "_Netcdf4Dimid", "_Netcdf4Coordinates"


def write_tree(target: str | Path | io.BytesIO, tree: DataTree) -> None:
    """Write all that a tree in memory holds; the same tree gives the same bytes."""
    with h5py.File(target, "w", track_order=True) as file:
        numbers, scales = count(), dict[str, dict[str, Any]]()
        for node in tree.subtree:
            place = node.path.rstrip("/")
            group = file.create_group(place, track_order=True) if place else file
            scales[place] = dict(scales.get(place.rpartition("/")[0], {}))
            _write(group, node.to_dataset(inherit=False), scales[place], numbers)
        libraries = {"h5netcdf": h5netcdf.__version__, "hdf5": h5py.version.hdf5_version}
        libraries |= {"h5py": h5py.__version__}
        text = ",".join(f"{name}={version}" for name, version in libraries.items())
        file.attrs["_NCProperties"] = np.bytes_(f"version=2,{text}")


def _write(
    group: h5py.Group, held: Dataset, scales: dict[str, Any], numbers: Iterator[int]
) -> None:
    """``scales``: by name of the dimension, the variable that holds its places: those of the groups
    around, to which those of this one are added."""
    variables, attributes = cf_encoder(*encode_dataset_coordinates(held))
    _write_attributes(group, attributes)
    sizes = {name: size for one in variables.values() for name, size in one.sizes.items()}
    own = [n for n, size in sizes.items() if n not in scales or scales[n].shape[0] != size]
    ids = {name: next(numbers) for name in own}
    for name in [name for name in ids if name not in variables]:
        scales[name] = _made(group, name, (sizes[name],), np.dtype(">f4"))
        scales[name].attrs[DIMENSION] = np.int32(ids[name])
        scales[name].make_scale(BARE + b"." + b"%10d" % sizes[name])
    result = {}
    for name, one in variables.items():
        result[name] = _made(group, name, one.shape, one.dtype, one.attrs.get("_FillValue"))
        if name in ids:
            scales[name] = result[name]
            result[name].attrs[DIMENSION] = np.int32(ids[name])
            result[name].make_scale(name)
    for name, one in variables.items():
        _place(result[name], [scales[axis] for axis in one.dims], name not in ids)
        _write_attributes(result[name], one.attrs)
        if one.size:
            result[name][...] = np.asarray(one.values, dtype=result[name].dtype)


def _made(
    group: h5py.Group, name: str, shape: tuple[int, ...], kind: Any, fill: Any = None
) -> h5py.Dataset:
    """A variable without values yet. An axis without places may grow."""
    large = shape != () and kind.kind == "f" and np.prod(shape) >= PACKED_FROM
    return group.create_dataset(
        name,
        shape,
        dtype=h5py.string_dtype() if kind.kind in "UO" else kind,
        fillvalue=fill,
        track_order=True,
        maxshape=tuple(size or None for size in shape) if 0 in shape else None,
        **(PACKED if large else {}),
    )


def _place(result: h5py.Dataset, scales: list[h5py.Dataset], attached: bool) -> None:
    """Tie a variable to what holds the places along its axes."""
    for axis, scale in enumerate(scales if attached else ()):
        result.dims[axis].attach_scale(scale)
    if scales:
        ids = np.array([scale.attrs[DIMENSION] for scale in scales], np.int32)
        result.attrs[PLACES] = ids
        if result.shape[0] and _name(result) != _name(scales[0]):
            result.attrs[DIMENSION] = ids[0]


def _write_attributes(holder: Any, attributes: Any) -> None:
    """A number as an array of one, as netCDF has it."""
    for name, value in attributes.items():
        alone = np.isscalar(value) and not isinstance(value, str)
        holder.attrs[name] = np.atleast_1d(value) if alone else value


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
    result = Dataset(decoded, attrs=attributes)
    return result.set_coords(coordinates & result.data_vars.keys())


def _dimensions(held: h5py.Dataset) -> tuple[str, ...]:
    """Names, those of the variables that hold the places along each of its axes."""
    axes = held.attrs.get("DIMENSION_LIST")  # only what holds places itself has none
    holders = [held] * held.ndim if axes is None else [held.file[axis[0]] for axis in axes]
    return tuple(_name(one) for one in holders)


def _name(held: h5py.Dataset) -> str:
    """Within its group."""
    return str(held.name).rpartition("/")[2]


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
