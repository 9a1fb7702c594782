"""A file to a signal: which kind it is, and what is done about gaps, doubles and nonsense."""

import hashlib
import re
from pathlib import Path

import numpy as np

from tailrace.measurements.e1947 import read_e1947
from tailrace.measurements.signal import TIME_UNITS, Raw, Signal, SignalError, Wanted
from tailrace.measurements.text import read_text
from tailrace.quantities.arrays import FloatArray

LARGEST = 20_000_000
"""Bytes; about a million points."""
FEWEST = 20
"""Points that a signal needs."""
MOST_DOUBLED = 0.1
"""Share of points at times that were there already, above which the times are wrong."""
SHORTEST, LONGEST = 1e-6, 600.0
"""Intervals in s outside of which the unit of time must be wrong."""
LARGEST_VALUE = 1e60
SENTINEL = -9999.0
"""What ASTM E1947 writes for a missing number."""
MAGIC = {
    b"\x89HDF": "netCDF-4 or HDF5 (export classic netCDF or text)",
    b"PK\x03\x04": "a compressed file (unpack it, or save a spreadsheet as text)",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet (save it as text)",
    b"%PDF": "a PDF (export the points as text)",
    b"\x1f\x8b": "a compressed file (unpack it)",
}


def read_signal(content: bytes, name: str, wanted: Wanted | None = None) -> Signal:
    """Read a signal from the bytes of a file.

    Raises SignalError: one sentence: what was expected, what was found, what to do.
    """
    wanted = wanted or Wanted()
    if wanted.time_unit and wanted.time_unit not in TIME_UNITS:
        raise SignalError(
            f"{name}: expected a unit of time of {', '.join(TIME_UNITS)}, found "
            f'"{wanted.time_unit[:20]}"; correct it'
        )
    try:
        return _cleaned(_raw(content, wanted), content, name, wanted)
    except SignalError as error:
        raise SignalError(f"{name}: {error}") from None


def load_signal(path: Path, wanted: Wanted | None = None) -> Signal:
    """Read a signal from a file; raises SignalError, also where there is none that can be read."""
    try:
        if not path.is_file():
            there = "A folder, a pipe or a device" if path.exists() else "No such file"
            raise FileNotFoundError(2, there)
        with path.open("rb") as stream:
            content = stream.read(LARGEST + 1)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or "a name that cannot be one").lower()
        raise SignalError(
            f"{str(path)[:120]}: expected a file of a signal, found {reason}; correct the name"
        ) from None
    return read_signal(content, path.name, wanted)


def _raw(content: bytes, wanted: Wanted) -> Raw:
    if not content.strip(b"\x00\xff\xfe\xef\xbb\xbf \t\r\n"):
        raise SignalError("expected a signal, found an empty file; export it again")
    if len(content) > LARGEST:
        raise SignalError(f"expected at most {LARGEST / 1e6:g} MB, found more; thin it out")
    for start, found in MAGIC.items():
        if content.startswith(start):
            raise SignalError(f"expected text or classic netCDF, found {found}")
    return read_e1947(content, wanted) if content[:3] == b"CDF" else read_text(content, wanted)


def _cleaned(raw: Raw, content: bytes, name: str, wanted: Wanted) -> Signal:
    unit = TIME_UNITS[raw.layout.time_unit]
    sound = np.isfinite(raw.times) & np.isfinite(raw.values) & (raw.values != SENTINEL)
    sound &= np.abs(raw.values) < LARGEST_VALUE
    times, values = raw.times[sound] * unit, raw.values[sound]
    if times.size < FEWEST:
        raise SignalError(
            f"expected at least {FEWEST} points, found {times.size}; record it more densely"
        )
    fall = np.flatnonzero(np.diff(times) < 0)
    if fall.size:
        one, other = times[fall[0]] / unit, times[fall[0] + 1] / unit
        raise SignalError(
            f"expected times that rise, found {other:g} after {one:g} {raw.layout.time_unit} at "
            f"point {fall[0] + 2}; name the column of times, or cut the file into its runs"
        )
    times, values, doubled = _single(times, values)
    step = float(np.median(np.diff(times)))
    if not SHORTEST <= step <= LONGEST:
        raise SignalError(
            f"expected points {SHORTEST:g} s to {LONGEST:g} s apart, found {step:g} s; the unit of "
            "time, or the column, is wrong"
        )
    if np.ptp(values) == 0:
        raise SignalError("expected a signal, found one value only; name the column of the signal")
    return Signal(
        name=name,
        sha256=hashlib.sha256(content).hexdigest(),
        layout=raw.layout,
        times=times,
        values=values,
        signal_unit=_printable(wanted.signal_unit or raw.signal_unit),
        duplicates=doubled,
        missing=int(sound.size - sound.sum()),
        quantum=raw.quantum * unit,
        marks=raw.marks,
    )


def _single(times: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray, int]:
    """Each time once, with the mean of its values; and how many points that took away."""
    distinct, where, counts = np.unique(times, return_inverse=True, return_counts=True)
    doubled = times.size - distinct.size
    if distinct.size < FEWEST or doubled > MOST_DOUBLED * times.size:
        raise SignalError(
            f"expected each time once, found {doubled} of {times.size} points at a time that was "
            "there already; name the column of times, or export them with more digits"
        )
    return distinct, np.bincount(where, values) / counts, doubled


def _printable(text: str) -> str:
    return re.sub(r"[^\w%µμ/^*². -]", "", text).strip()[:20]
