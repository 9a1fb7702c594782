"""The numbers behind a figure as a table of text (CSV), units in its head."""

import csv
import io

import numpy as np

from tailrace.records.atomic import write_bytes

DIGITS = 9
"""Far more than the discretisation error deserves, and few enough to be the same everywhere."""


def as_csv(table) -> bytes:
    """A table as CSV (RFC 4180) in UTF-8; the same table gives the same bytes.

    Parameters
    ----------
    table : dict of str to tailrace.studies.gallery.exhibit.Series
        Columns of equal length.

    Returns
    -------
    bytes
        The first line names each column with its unit, ``time [s]``. Where there is no number the
        cell is empty.
    """
    sink = io.StringIO()
    writer = csv.writer(sink, lineterminator="\r\n")
    writer.writerow([f"{name} [{one.unit}]" if one.unit else name for name, one in table.items()])
    for row in zip(*(one.values.tolist() for one in table.values()), strict=True):
        writer.writerow([_cell(value) for value in row])
    return sink.getvalue().encode()


def write_csv(path, table):
    """Write a table (see ``as_csv``); the file is either complete or not there.

    Parameters
    ----------
    path : str or Path
    table : dict of str to tailrace.studies.gallery.exhibit.Series

    Raises
    ------
    OSError
        Where the folder is missing or cannot be written.
    """
    write_bytes(path, as_csv(table))


def _cell(value):
    if isinstance(value, str):
        return value
    return f"{value:.{DIGITS}g}" if np.isfinite(value) else ""
