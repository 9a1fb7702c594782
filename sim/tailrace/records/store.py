"""Records as files, each written whole or not at all."""

import contextlib
import errno
import io
import os
import secrets
import shutil
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import h5py
import xarray

from tailrace.errors import TailraceError
from tailrace.identity import code_sha256, own_version
from tailrace.records.kinds import KINDS
from tailrace.records.record import LAYOUT, as_beside, as_result
from tailrace.records.seal import SEAL, SealError, check_seal, write_seal
from tailrace.records.tree import tree_in, write_tree


@contextlib.contextmanager
def replacing(path: str | Path) -> Iterator[Path]:
    """Give a temporary path in the same folder; on leaving, it takes the place of ``path``.

    ``path``: the file to be; whatever stood there before stays until the new one is complete on
    disk. A link stays one, and a file keeps its mode. What is given is where to write the content,
    and to close it. Raises OSError where the folder cannot be written, or a device or folder has
    that name; the temporary file is removed then, too.
    """
    path = Path(os.path.realpath(path))
    before = path.stat().st_mode if path.exists() else None
    if before is not None and not stat.S_ISREG(before):
        raise OSError(errno.EINVAL, "something that is no plain file", str(path))
    aside = path.with_name(f".{secrets.token_hex(4)}.unfinished")
    try:
        yield aside
        if before is not None:
            aside.chmod(stat.S_IMODE(before))
        _flush(aside, os.O_RDWR)
        os.replace(aside, path)
        if os.name == "posix":
            _flush(path.parent, os.O_RDONLY)
    finally:
        aside.unlink(missing_ok=True)


def write_bytes(path: str | Path, content: bytes) -> None:
    """Write ``content`` (bytes) to ``path`` by way of ``replacing``; raises what that raises."""
    with replacing(path) as aside:
        aside.write_bytes(content)


def _flush(path: Path, mode: int) -> None:
    handle = os.open(path, mode)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


LARGE = 100_000_000
"""Bytes, before they are packed, from which on a record is written without a second copy of it in
memory."""


class RecordError(TailraceError):
    """A file that should be a record is not one, or is one of another layout."""


@dataclass(frozen=True)
class More:
    """What a record has besides what is in memory: bytes, and what adds it to the file."""

    nbytes: int
    write: Callable[[Path], None]


def write_record(path: str | Path, record: xarray.DataTree, more: More | None = None) -> None:
    """Write a record; the same record gives the same bytes.

    Its seal is set in ``record``, too. ``path``: replaced as a whole once the new file is complete
    on disk. Raises OSError where the folder is missing or cannot be written.
    """
    record.attrs.pop(SEAL, None)
    # HDF5 does not survive a disk that is full: in memory first, or only where there is room.
    room = record.nbytes + (more.nbytes if more else 0)
    if more or room > LARGE:
        with replacing(path) as aside:
            if shutil.disk_usage(aside.parent).free < room:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))
            write_tree(aside, record)
            if more:
                more.write(aside)
            record.attrs[SEAL] = write_seal(aside)
        return
    buffer = io.BytesIO()
    write_tree(buffer, record)
    record.attrs[SEAL] = write_seal(buffer)
    write_bytes(path, buffer.getvalue())


def read_record(path: str | Path, *kinds: str, chunks: Any = None) -> xarray.DataTree:
    """Read a record into memory; with ``chunks`` (as of xarray) its arrays are those of Dask.

    ``*kinds``: of ``KINDS``; any of them if none is named. What is read equals what was written;
    ``as_result`` reads the result out of it. Raises RecordError where the file is missing, damaged,
    not such a record, or of a layout unknown here.
    """
    rows = [KINDS[name] for name in kinds or KINDS]
    commands = " or ".join(dict.fromkeys(f"`{one.command} --out`" for one in rows))
    record = opened(path, commands, chunks)
    if record.attrs.get("kind") not in (kinds or KINDS):
        found = str(record.attrs.get("kind") or "an HDF5 file of another origin")
        raise RecordError(f"{path}: expected a record of {commands}, found {found}; name one")
    layout = int(record.attrs.get("layout", 0))
    if layout != LAYOUT:
        raise RecordError(
            f"{path}: expected a record of layout {LAYOUT}, found layout {layout} of version "
            f"{record.attrs.get('version')}; read it with that version, or write it again with "
            f"{commands} of this one"
        )
    kind = KINDS[record.attrs["kind"]]
    if not kind.described:
        return record
    try:
        as_result(record)
        beside = {name: as_beside(record, name) for name in kind.beside()}
        lacking = [name for name in kind.always if not beside[name]]
        if lacking:
            raise KeyError(lacking[0])
    except (KeyError, ValueError, TypeError, IndexError, AttributeError) as problem:
        found = str(problem.args[0] if problem.args else type(problem).__name__).split(". ")[0]
        other = record.attrs.get("code_sha256") != code_sha256()
        state = f"one of version {record.attrs.get('version')}" if other else "a damaged one"
        raise RecordError(
            f"{path}: expected a complete record of version {own_version()}, found {state} "
            f"({found}); {'read it with that version, or ' * other}write it again with {commands}"
        ) from problem
    return record


def opened(path: str | Path, commands: str, chunks: Any = None) -> xarray.DataTree:
    """A sealed HDF5 file as a tree in memory, or as one that is read when it is computed with.

    ``chunks``: as of ``read_record``. ``commands``: which write the file that is expected. Raises
    RecordError where the file is missing, damaged, altered, or not HDF5.
    """
    path = Path(path)
    if chunks is not None and not find_spec("dask"):
        raise RecordError(
            "chunks: expected the libraries of the extra `cluster`, found none; install them with "
            "`pip install tailrace[cluster]`, or leave chunks out"
        )
    if not path.is_file() or not h5py.is_hdf5(path):
        found = "a folder" if path.is_dir() else "another kind of file"
        raise RecordError(
            f"{path}: expected a record in HDF5, found {found if path.exists() else 'nothing'}; "
            f"name a file written by {commands}"
        )
    try:
        check_seal(path)
        if chunks is not None:
            return xarray.open_datatree(path, engine="h5netcdf", chunks=chunks)
        with h5py.File(path) as file:
            return tree_in(file)
    except SealError as problem:
        raise RecordError(
            f"{path}: expected a record as it was written, found {problem}: it was altered, or is "
            f"none of this program; take the original, or write it again with {commands}"
        ) from problem
    except (OSError, ValueError, KeyError, RuntimeError, TypeError) as problem:
        raise RecordError(
            f"{path}: expected a complete record, found a damaged one ({type(problem).__name__}); "
            f"write it again with {commands}"
        ) from problem
