"""The curves of a run as CSV, to draw them elsewhere."""

import csv
import io
from collections.abc import Iterator

from tailrace.journey.result import PartResult, Result

DIGITS = 9


def recorded_csv(result: Result) -> bytes:
    """The recorded signal of every solute; see ``_csv``."""
    return _csv(result, result.parts[-1:], named=False)


def bands_csv(result: Result) -> bytes:
    """The band behind every part, from the injection to the recording; see ``_csv``."""
    return _csv(result, result.recording, named=True)


def _csv(result: Result, parts: tuple[PartResult, ...], named: bool) -> bytes:
    """Rows of (part,) solute, time and signal, RFC 4180 in UTF-8; the same result, the same bytes.

    The first line names each column with its unit: the signal is the amount per time over the
    amount injected.
    """
    sink = io.StringIO()
    writer = csv.writer(sink, lineterminator="\r\n")
    head = ["solute", "time [s]", "signal [1/s]"]
    writer.writerow(["part", *head] if named else head)
    for part in parts:
        for row in _rows(part, result.lanes):
            writer.writerow([part.name, *row] if named else row)
    return sink.getvalue().encode()


def _rows(part: PartResult, lanes: tuple[str, ...]) -> Iterator[tuple[str, str, str]]:
    if part.band is None:
        return
    for name, times, values in zip(lanes, part.band.times, part.band.values, strict=True):
        for time, value in zip(times.tolist(), values.tolist(), strict=True):
            yield name, f"{time:.{DIGITS}g}", f"{value:.{DIGITS}g}"
