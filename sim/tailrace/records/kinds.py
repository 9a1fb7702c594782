"""Which kind of record a file holds."""

from pathlib import Path

import h5py

from tailrace.records.store import RecordError


def kind_of(path) -> str:
    """The ``kind`` that a record says of itself: ``tailrace record``, ``tailrace sweep``, ...

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    str
        Empty for an HDF5 file of another origin.

    Raises
    ------
    RecordError
        Where the file is missing, or is not HDF5.
    """
    path = Path(path)
    if not path.is_file() or not h5py.is_hdf5(path):
        found = "a folder" if path.is_dir() else "another kind of file"
        raise RecordError(
            f"{path}: expected a record in HDF5, found {found if path.exists() else 'nothing'}; "
            "name a file that tailrace wrote with --out"
        )
    try:
        with h5py.File(path) as stored:
            kind = stored.attrs.get("kind", "")
    except (OSError, RuntimeError) as problem:
        raise RecordError(
            f"{path}: expected a complete record, found a damaged one ({type(problem).__name__}); "
            "write it again"
        ) from problem
    return kind if isinstance(kind, str) else ""
