"""Records to HDF5 files and back. xarray opens the files without tailrace, too."""

from pathlib import Path

import h5py
import xarray

from tailrace.errors import TailraceError
from tailrace.records.atomic import replacing
from tailrace.records.record import GROUPS, KIND, LAYOUT


class RecordError(TailraceError):
    """A file that should be a record is not one, or is one of another layout."""


def write_record(path, record):
    """Write a record; the same record gives the same bytes.

    Parameters
    ----------
    path : str or Path
        Replaced as a whole once the new file is complete on disk.
    record : xarray.DataTree

    Raises
    ------
    OSError
        Where the folder is missing or cannot be written.
    """
    encoding = {
        group.path: {
            name: {"zlib": True, "complevel": 4, "shuffle": True}
            for name in ("values", "time")
            if name in group.dataset.variables
        }
        for group in record.subtree
    }
    write_tree(path, record, {key: value for key, value in encoding.items() if value})


def write_tree(path, tree, encoding):
    """Write a tree of any kind (xarray.DataTree) with the encoding that xarray takes, as a whole
    or not at all; raises OSError as ``write_record`` does."""
    with replacing(path) as aside:
        tree.to_netcdf(aside, engine="h5netcdf", encoding=encoding)


def read_record(path):
    """Read a record of a run into memory.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    xarray.DataTree
        Equal to the one that was written.

    Raises
    ------
    RecordError
        Where the file is missing, damaged, not a record, or of a layout unknown here.
    """
    return read_tree(path, "run", KIND, LAYOUT, GROUPS)


def read_tree(path, command, kind, layout, groups):
    """Read a tree of some kind into memory.

    Parameters
    ----------
    path : str or Path
    command : str
        That writes such files.
    kind : str
    layout : int
    groups : sequence of str
        That every such file has.

    Returns
    -------
    xarray.DataTree

    Raises
    ------
    RecordError
        As of ``read_record``.
    """
    path = Path(path)
    if not path.is_file():
        raise RecordError(
            f"{path}: expected a record file, found "
            f"{'a folder' if path.is_dir() else 'nothing'}; "
            f"name a file written by `{command} --out`"
        )
    if not h5py.is_hdf5(path):
        raise RecordError(
            f"{path}: expected a record in HDF5, found another kind of file; "
            f"name a file written by `{command} --out`"
        )
    try:
        with xarray.open_datatree(path, engine="h5netcdf") as tree:
            record = tree.load()
    except (OSError, ValueError, KeyError, RuntimeError) as problem:
        raise RecordError(
            f"{path}: expected a complete record, found a damaged one "
            f"({type(problem).__name__}); write it again with `{command} --out`"
        ) from problem
    wrong = _wrong(record, command, kind, layout, groups)
    if wrong:
        raise RecordError(f"{path}: {wrong}")
    return record


def _wrong(record, command, kind, layout, groups):
    """What is wrong with a tree that could be read; empty if nothing is."""
    if record.attrs.get("kind") != kind:
        return (
            "expected a record, found an HDF5 file of another origin; "
            f"name a file written by `{command} --out`"
        )
    found = int(record.attrs.get("layout", 0))
    if found != layout:
        return (
            f"expected a record of layout {layout}, found layout {found}; "
            f"write it again with `{command} --out` of this version"
        )
    missing = [name for name in groups if name not in record.children]
    if missing:
        return (
            "expected a complete record, found a damaged one without its group "
            f"{missing[0]}; write it again with `{command} --out`"
        )
    return ""
