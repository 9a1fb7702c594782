"""What changes bring, to an HDF5 file and back."""

from pathlib import Path

import h5py
import xarray

from tailrace.records.atomic import replacing
from tailrace.records.improvement import KIND, LAYOUT
from tailrace.records.store import RecordError


def write_improvement(path, dataset):
    """Write an improvement; the same one gives the same bytes.

    Parameters
    ----------
    path : str or Path
        Replaced as a whole once the new file is complete on disk.
    dataset : xarray.Dataset

    Raises
    ------
    OSError
        Where the folder is missing or cannot be written.
    """
    with replacing(path) as aside:
        dataset.to_netcdf(aside, engine="h5netcdf")


def read_improvement(path):
    """Read an improvement into memory.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    xarray.Dataset
        Identical to the one that was written.

    Raises
    ------
    RecordError
        Where the file is missing, damaged, not an improvement, or of a layout unknown here.
    """
    path = Path(path)
    if not path.is_file() or not h5py.is_hdf5(path):
        found = "another kind of file" if path.is_file() else "nothing"
        raise RecordError(
            f"{path}: expected an improvement in HDF5, found {found}; "
            "name a file of `improve --out`"
        )
    try:
        with xarray.open_dataset(path, engine="h5netcdf") as stored:
            dataset = stored.load()
    except (OSError, ValueError, KeyError, RuntimeError) as problem:
        raise RecordError(
            f"{path}: expected a complete improvement, found a damaged one "
            f"({type(problem).__name__}); write it again with `improve --out`"
        ) from problem
    if dataset.attrs.get("kind") != KIND or int(dataset.attrs["layout"]) != LAYOUT:
        raise RecordError(
            f"{path}: expected an improvement of layout {LAYOUT}, found another file; "
            "write it again with `improve --out` of this version"
        )
    return dataset
