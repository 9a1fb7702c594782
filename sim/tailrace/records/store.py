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
    with replacing(path) as aside:
        record.to_netcdf(
            aside, engine="h5netcdf", encoding={key: val for key, val in encoding.items() if val}
        )


def read_record(path):
    """Read a record into memory.

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
    path = Path(path)
    if not path.is_file():
        raise RecordError(
            f"{path}: expected a record file, found "
            f"{'a folder' if path.is_dir() else 'nothing'}; name a file written by `run --out`"
        )
    if not h5py.is_hdf5(path):
        raise RecordError(
            f"{path}: expected a record in HDF5, found another kind of file; "
            "name a file written by `run --out`"
        )
    try:
        with xarray.open_datatree(path, engine="h5netcdf") as tree:
            record = tree.load()
    except (OSError, ValueError, KeyError, RuntimeError) as problem:
        raise RecordError(
            f"{path}: expected a complete record, found a damaged one "
            f"({type(problem).__name__}); write it again with `run --out`"
        ) from problem
    return _checked(path, record)


def _checked(path, record):
    if record.attrs.get("kind") != KIND:
        raise RecordError(
            f"{path}: expected a record, found an HDF5 file of another origin; "
            "name a file written by `run --out`"
        )
    layout = int(record.attrs["layout"])
    if layout != LAYOUT:
        raise RecordError(
            f"{path}: expected a record of layout {LAYOUT}, found layout {layout}; "
            "write it again with `run --out` of this version"
        )
    missing = [name for name in GROUPS if name not in record.children]
    if missing:
        raise RecordError(
            f"{path}: expected a complete record, found a damaged one without its group "
            f"{missing[0]}; write it again with `run --out`"
        )
    return record
