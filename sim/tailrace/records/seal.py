"""The seal of a record: a hash over all that it holds, so that an alteration is noticed.

It is computed from the HDF5 file and not from what xarray makes of it: every group, variable and
attribute counts, with its type, whatever a reader would pass over. How values are packed does not.
The seal guards against accidents and careless edits; whoever alters a record on purpose can compute
it again. A signature over the seal belongs in a file beside the record.
"""

import hashlib
import io
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from tailrace.records.slabs import slabs

SEAL = "seal"
"""Attribute of the root; the only thing that does not count."""
SLAB = 1 << 20
"""Numbers that are read at a time."""


class SealError(Exception):
    """A record does not hold what was written; the message says what is odd about it."""


def write_seal(path: str | Path | io.BytesIO) -> str:
    """Seal a record that is written in full, and give the seal."""
    with h5py.File(path, "r+") as file:
        seal = seal_of(file)
        file.attrs[SEAL] = seal
        return seal


def check_seal(path: str | Path) -> str:
    """The seal of a record, after it was computed again.

    Raises SealError where there is none, or not that of what the file holds. Raises OSError,
    RuntimeError, ValueError, KeyError or TypeError where the file is damaged so that it cannot be
    read.
    """
    with h5py.File(path, "r") as file:
        stored = file.attrs.get(SEAL)
        if not isinstance(stored, str):
            raise SealError("no seal")
        if seal_of(file) != stored:
            raise SealError("a seal of other contents")
        return stored


def seal_of(file: h5py.File) -> str:
    """SHA-256 over names, types, shapes, values and attributes, in the order of the names.

    Raises SealError for what no record holds: a link that is not the only one to its group, or
    leads elsewhere.
    """
    whole = hashlib.sha256()
    _digest(file, whole.update, set(), Named(file))
    return whole.hexdigest()


class Named:
    """Names of what references lead to, all at once: HDF5 goes through the file to find one."""

    def __init__(self, file: h5py.File) -> None:
        self.file = file
        self.names: dict[int, str] = {}
        file.visit(self._add)

    def _add(self, name: str) -> None:
        address = h5py.h5o.get_info(self.file.id, name.encode()).addr
        self.names[address] = f"/{name}"

    def __call__(self, reference: h5py.Reference) -> str:
        """Name of its object. Raises SealError where there is none."""
        try:
            return self.names[h5py.h5o.get_info(self.file[reference].id).addr]
        except (ValueError, KeyError, RuntimeError, OSError):
            raise SealError("a reference to what is not there") from None


def _digest(
    group: h5py.Group, update: Callable[[bytes], object], seen: set[int], named: Named
) -> None:
    address = h5py.h5o.get_info(group.id).addr
    if address in seen or not isinstance(group.get("/"), h5py.Group):
        raise SealError(f"{group.name} twice")
    seen.add(address)
    _digest_attributes(group, update, named)
    for name in sorted(group):
        if not isinstance(group.get(name, getlink=True), h5py.HardLink):
            raise SealError(f"a link at {group.name}/{name}")
        inner = group[name]
        update(_framed("group" if isinstance(inner, h5py.Group) else "variable", name))
        if isinstance(inner, h5py.Group):
            _digest(inner, update, seen, named)
        elif isinstance(inner, h5py.Dataset):
            update(_encoded(inner.fillvalue, named))
            for piece in _pieces(inner, named):
                update(piece)
            _digest_attributes(inner, update, named)
        else:
            raise SealError(f"a type at {group.name}/{name}")
    update(b"end\n")


def _pieces(variable: h5py.Dataset, named: Named) -> Iterator[bytes]:
    """As ``_encoded`` of the whole, which memory need not hold."""
    if variable.dtype.kind == "O" or variable.dtype.fields or variable.size <= SLAB:
        yield _encoded(variable[()], named)
        return
    yield _framed(variable.dtype.str, json.dumps(variable.shape))
    for slab, _ in slabs(variable.shape, SLAB):
        yield variable[slab].tobytes()


def _digest_attributes(holder: Any, update: Callable[[bytes], object], named: Named) -> None:
    for name in sorted(holder.attrs):
        if name != SEAL or holder.name != "/":
            update(_framed("attribute", name) + _encoded(holder.attrs[name], named))


def _encoded(value: Any, named: Named) -> bytes:
    """Type, shape and values. A reference counts as the name of what it leads to."""
    values = np.asarray(value)
    if values.dtype.kind == "O" or values.dtype.fields:
        return _framed("objects", json.dumps(_plain(values.tolist(), named)))
    return _framed(values.dtype.str, json.dumps(values.shape)) + values.tobytes()


def _plain(value: Any, named: Named) -> Any:
    if isinstance(value, list | tuple | np.ndarray):
        return [_plain(one, named) for one in value]
    if isinstance(value, h5py.Reference):
        return f"-> {named(value)}" if value else "->"
    return value.hex() if isinstance(value, bytes) else value


def _framed(kind: str, text: str) -> bytes:
    """A text whose end cannot be mistaken."""
    return f"{kind} {len(text.encode())} {text}\n".encode()
