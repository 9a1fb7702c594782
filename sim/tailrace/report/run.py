"""What a run says, as text, as one JSON object (SI), and its curves as CSV."""

import csv
import io
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tailrace.journey.result import Assumption, PartResult, Result
from tailrace.journey.verification import CrossCheck
from tailrace.measures.registry import CAPACITY, PLATES, SIGNALS, TAILING, of_peaks
from tailrace.quantities.described import descriptions
from tailrace.records.layout import as_json as plain
from tailrace.records.separation import Separation, separation
from tailrace.report.columns import left_lines, left_table
from tailrace.report.sentences import (
    assumption_lines,
    conclusion,
    critical_line,
    pressure_line,
    verdict,
)
from tailrace.report.table import Headline, Table, shown
from tailrace.report.tables import (
    amounts_table,
    check_tables,
    parts_table,
    recorded_table,
    regained_table,
    signal_tables,
)


def check_text(check: CrossCheck, title: str) -> str:
    """Tables that set two solvers side by side, and a sentence on whether they agree."""
    return shown([title, *check_tables(check), verdict(check)])


def as_text(result: Result, title: str) -> str:
    """Everything that ``run`` says, as plain text of at most 110 columns, without a line end."""
    return shown(blocks(result, title))


def blocks(result: Result, title: str) -> list[str | Table]:
    """The same, to be shown at any width."""
    remarks = "\n".join(_remarks(result))
    return [Headline(title), *_tables(result), remarks, Headline(conclusion(result))]


def _tables(result: Result) -> list[Table]:
    parts = [parts_table(result, k) for k in range(len(result.lanes))]
    back = filter(None, [regained_table(result)])
    recorded = [recorded_table(result), amounts_table(result), *signal_tables(result)]
    return [*parts, *back, *recorded, *filter(None, [left_table(result)])]


def _remarks(result: Result) -> list[str]:
    warnings = [f"Warning: {text}" for text in result.warnings]
    return [
        *filter(None, [critical_line(result)]),
        pressure_line(result.pressure, result.parts, CAPACITY in result.recorded),
        *warnings,
        *left_lines(result),
        *assumption_lines(result),
    ]


COLUMN_ALONE = (PLATES, TAILING, CAPACITY)
PART = ("volume", "residence", "fourier_number", "variance_volume", "gradient_focusing")
BACK = {
    "plates_back": "plates",
    "peak_capacity_back": "peak_capacity",
    "resolution_back": "resolution",
    "back_error": "numerical_error",
}
"""Keys of a part, and the fields of ``Regained`` that they read."""
PART_BY_ORIGIN = {
    "mean": ("closed_form", "simulated"),
    "variance": ("gaussian_theory", "exact", "simulated"),
    "skewness": ("exact", "simulated"),
}


def as_json(result: Result, title: str, sha256: str, version: str) -> dict[str, Any]:
    """Turn a result into the object that the scenario contract describes.

    ``title``, ``sha256``, ``version``: of the scenario, of the bytes of its file, and of the
    program. It holds text, numbers in SI and None where a value does not exist; ready for
    ``json.dumps``.
    The keys are always all there: without a column the metrics of ``column_alone`` are None, with a
    gradient the plates, without one ``peak_capacity`` and ``gradient_focusing``.
    """
    return {
        "contract": 2,
        "title": title,
        "scenario_sha256": sha256,
        "version": version,
        "solutes": [_solute(result, lane) for lane in range(len(result.lanes))],
        "pressure": plain(result.pressure),
        "resolution": neighbours(separation(result)),
        "warnings": list(result.warnings),
        "assumptions": [
            {name: plain(getattr(one, name)) for name in descriptions(Assumption)}
            for one in result.assumptions
        ],
        "columns": [plain(one) for one in result.columns],
    }


def _solute(result: Result, lane: int) -> dict[str, Any]:
    return {
        "name": result.lanes[lane],
        "parts": [_part(part, lane) | _back(result, part.name, lane) for part in result.parts],
        "recorded": _pick(result.recorded, of_peaks(), lane),
        "column_alone": _pick(result.column_alone or {}, COLUMN_ALONE, lane),
        "numerical_error": _pick(result.numerical_error, of_peaks(), lane),
        "signal": _pick(result.signal, SIGNALS, lane),
    }


def neighbours(pairs: Separation) -> list[dict[str, Any]]:
    """Neighbours in the order of elution; exactly one pair is the critical one, if any can be."""
    columns = {name: plain(getattr(pairs, name)) for name in descriptions(Separation)}
    return [
        {name: column[pair] for name, column in columns.items()}
        | {"critical": pair == pairs.critical}
        for pair in range(len(pairs.first))
    ]


def _part(part: PartResult, lane: int) -> dict[str, Any]:
    def number(name: str) -> Any:
        return plain(np.broadcast_to(getattr(part, name), part.volume.shape)[lane])

    return {
        "name": part.name,
        "part": part.kind,
        "behind": part.behind,
        **{name: number(name) for name in PART},
        **{
            group: {origin: number(f"{group}_{origin}") for origin in origins}
            for group, origins in PART_BY_ORIGIN.items()
        },
    }


def _back(result: Result, name: str, lane: int) -> dict[str, Any]:
    """What comes back if a part alone were ideal; None of the column, and where not known."""
    found: dict[str, Any] = dict.fromkeys(BACK)
    if result.regained is not None:
        for key, field in BACK.items():
            value = getattr(result.regained, field).get(name)
            found[key] = (
                None if value is None else plain(float(np.ravel(value)[lane % np.size(value)]))
            )
    return found


def _pick(metrics: Mapping[str, Any], keys: Any, lane: int) -> dict[str, Any]:
    return {key: plain(float(metrics[key][lane])) if key in metrics else None for key in keys}


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
