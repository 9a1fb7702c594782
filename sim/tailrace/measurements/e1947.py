"""ASTM E1947 chromatograms: classic netCDF with the names of that standard.

Names after ASTM E1947-98 (from memory) and the two files that the tests read.
"""

import io
import warnings
from typing import Any

import numpy as np

from tailrace.measurements.signal import TIME_UNITS, Layout, Mark, Raw, SignalError, Wanted
from tailrace.quantities.arrays import FloatArray

SENTINEL = -9999.0
VALUES, TIMES = "ordinate_values", "raw_data_retention"
INTERVAL, DELAY, LENGTH = "actual_sampling_interval", "actual_delay_time", "actual_run_time_length"
MARK = {
    "start": "peak_start_time",
    "end": "peak_end_time",
    "start_level": "baseline_start_value",
    "end_level": "baseline_stop_value",
    "apex": "peak_retention_time",
    "height": "peak_height",
    "area": "peak_area",
}
MOST_MARKS = 10_000


def read_e1947(content: bytes, wanted: Wanted) -> Raw:
    """Read the raw data and the peaks of a chromatogram.

    Raises SignalError where the file is damaged, or holds no signal.
    """
    from scipy.io import netcdf_file

    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            file = netcdf_file(io.BytesIO(content), mmap=False)
            return _raw(file, wanted)
    except SignalError:
        raise
    # whatever a reader of binary files meets in a damaged one
    except Exception:
        raise SignalError(
            "expected classic netCDF after ASTM E1947, found a damaged file; export it again"
        ) from None


def _raw(file: Any, wanted: Wanted) -> Raw:
    values = _row(file, VALUES)
    if values is None or not values.size:
        raise SignalError(
            f"expected a chromatogram after ASTM E1947, found netCDF without {VALUES}; export the "
            "raw data too"
        )
    unit, unit_from = _time_unit(file, wanted)
    times, source = _times(file, values.size, wanted, TIME_UNITS[unit])
    if times.size != values.size:
        raise SignalError(
            f"expected a time for each value, found {times.size} for {values.size}; export it again"
        )
    return Raw(
        layout=Layout(
            form="ASTM E1947 netCDF",
            time_unit=unit,
            time_unit_from=unit_from,
            times_from=source,
            time_column=TIMES if source == "file" else INTERVAL,
            signal_column=VALUES,
        ),
        times=times,
        values=values,
        signal_unit=_text(file, "detector_unit"),
        marks=_marks(file, TIME_UNITS[unit]),
    )


def _times(file: Any, count: int, wanted: Wanted, unit: float) -> tuple[FloatArray, str]:
    """In the file's unit; uneven sampling has a time for each point."""
    flag = getattr(file.variables[VALUES], "uniform_sampling_flag", b"Y")
    times = _row(file, TIMES)
    even = not str(flag).lstrip("b'\"").upper().startswith("N")
    if times is not None and np.ptp(times) > 0 and (not even or _number(file, INTERVAL) is None):
        return times, "file"
    if not even:
        raise SignalError(
            f"expected the times of an uneven signal in {TIMES}, found none; export it again"
        )
    delay, interval = _number(file, DELAY) or 0.0, _number(file, INTERVAL)
    if interval is None or interval <= 0:
        length = _number(file, LENGTH)
        if wanted.interval is not None:
            return np.asarray((wanted.start + wanted.interval * np.arange(count)) / unit), "option"
        if length is None or length <= 0 or count < 2:
            raise SignalError(f"expected {INTERVAL}, found none; give the interval between points")
        interval = length / (count - 1)
    return np.asarray(delay + interval * np.arange(count)), "header"


def _time_unit(file: Any, wanted: Wanted) -> tuple[str, str]:
    if wanted.time_unit:
        return wanted.time_unit, "option"
    unit_text = _text(file, "retention_unit").lower()
    if "min" in unit_text:
        return "min", "file"
    return "s", "file" if "s" in unit_text.removeprefix("time in ")[:1] else "assumed"


def _marks(file: Any, unit: float) -> tuple[Mark, ...]:
    rows = {field: _row(file, name) for field, name in MARK.items()}
    columns = [one for one in rows.values() if one is not None]
    if len(columns) < len(MARK) or len({one.size for one in columns}) != 1:
        return ()
    peaks = []
    for index in range(min(columns[0].size, MOST_MARKS)):
        row = {name: float(one[index]) for name, one in rows.items() if one is not None}
        sound = all(np.isfinite(one) and one != SENTINEL for one in row.values())
        if not sound or row["end"] <= row["start"]:
            continue
        # an area is signal times time
        for name in ("start", "end", "apex", "area"):
            row[name] *= unit
        peaks.append(Mark(name=str(index + 1), **row))
    return tuple(peaks)


def _row(file: Any, name: str) -> FloatArray | None:
    if name not in file.variables:
        return None
    found = np.asarray(file.variables[name].data)
    return found.astype(float).ravel() if found.dtype.kind in "iuf" else None


def _number(file: Any, name: str) -> float | None:
    """A scalar; None where it is missing or says that it is."""
    row = _row(file, name)
    if row is None or row.size != 1 or not np.isfinite(row[0]) or row[0] in (SENTINEL, 0.0):
        return None
    return float(row[0])


def _text(file: Any, name: str) -> str:
    value = getattr(file, name, b"")
    text = value.decode("latin-1") if isinstance(value, bytes) else str(value)
    return "".join(one for one in text if one.isprintable()).strip()
