"""A measured signal as it was read, and what was understood on the way."""

from dataclasses import dataclass, field

from tailrace.errors import TailraceError
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.described import described

TIME_UNITS = {"ms": 1e-3, "s": 1.0, "min": 60.0, "h": 3600.0}
"""What each is in s."""


class SignalError(TailraceError):
    """A file holds no signal that can be measured; one sentence says why and what to do."""


@dataclass(frozen=True, kw_only=True)
class Mark:
    """One peak as the data system integrated it; its baseline is a straight line."""

    name: str = described("name of the peak in the file", "", label="peak", names=True)
    start: float = described("start of the peak", "s", label="from", digits=5)
    end: float = described("end of the peak", "s", label="to", digits=5)
    start_level: float = described("baseline at the start", "signal")
    end_level: float = described("baseline at the end", "signal")
    apex: float = described("retention time in the file", "s", label="retention time", digits=5)
    height: float = described("height in the file", "signal", label="height", digits=5)
    area: float = described("area in the file", "signal s", label="area", digits=5)


@dataclass(frozen=True, kw_only=True)
class Layout:
    """How a file was read."""

    form: str = described("text or ASTM E1947 netCDF", "")
    encoding: str = described("encoding of a text", "", default="")
    delimiter: str = described("what stands between columns", "", default="")
    decimal: str = described("decimal sign", "", default="")
    first_line: int = described("line of the first point; 0 of what is no text", default=0)
    last_line: int = described("line of the last point; 0 of what is no text", default=0)
    time_column: str = described("number and heading of the column of times", "", default="")
    signal_column: str = described("number and heading of the column of the signal", "", default="")
    times_from: str = described("where times are from: rows, header, file, option", "")
    time_unit: str = described("unit of time in the file", "")
    time_unit_from: str = described("where that is from: file, option, assumed", "")


@dataclass(frozen=True, kw_only=True)
class Signal:
    """A signal, cleaned: times rise, every value is finite."""

    name: str = described("name of the file", "", names=True)
    sha256: str = described("SHA-256 of the file", "")
    layout: Layout = described("how the file was read")
    times: FloatArray = described("times of the points", "s", along=("point",))
    values: FloatArray = described("signal", "signal", along=("point",))
    signal_unit: str = described("unit of the signal as the file gives it; empty: not known", "")
    duplicates: int = described("points at a time that was there already, averaged", default=0)
    missing: int = described("points without a value, left out", default=0)
    quantum: float = described("rounding of the times in the file", "s", default=0.0)
    marks: tuple[Mark, ...] = described(
        "peaks as the data system integrated them", along=("mark",), default=()
    )


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What the reader is told where a file does not say.

    Parameters
    ----------
    time_unit : str
        A key of ``TIME_UNITS``; empty: as the file says.
    time, signal : int, str or None
        Columns by number from 1 or by heading.
    interval : float, s, or None
        Between points, where the file holds values alone.
    start : float, s
        Time of the first of them.
    """

    time_unit: str = ""
    signal_unit: str = ""
    time: int | str | None = None
    signal: int | str | None = None
    interval: float | None = None
    start: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Raw:
    """Times and values as they stand in a file, in its own unit of time."""

    layout: Layout
    times: FloatArray
    values: FloatArray
    signal_unit: str = ""
    quantum: float = 0.0
    marks: tuple[Mark, ...] = field(default=())
