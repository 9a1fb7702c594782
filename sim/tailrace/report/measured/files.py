"""What ``measure`` says of files, in words, tables, JSON and as a page."""

from collections.abc import Iterator
from functools import partial
from typing import Any

import numpy as np

from tailrace.measurements.measuring import (
    LEAST_WIDTHS,
    NARROWER,
    NOISE_WIDTHS,
    WIDER,
    points_down,
)
from tailrace.measurements.result import Measured, Measurement, Repeats, metric_description
from tailrace.measurements.signal import Mark
from tailrace.measurements.spots import LAST
from tailrace.measures.registry import APEX, ASYMMETRY, HEIGHT, MEAN, PLATES, TAILING, VARIANCE
from tailrace.measures.registry import WIDTH as HALF
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.described import Description, descriptions
from tailrace.records.layout import as_json as plain
from tailrace.report.measured.section import Drawings, Section, Telling
from tailrace.report.numbers import NOT_RESOLVED, significant, with_error
from tailrace.report.table import Column, Table, numbers, tabulated, words

AREA = "area"
PLACE, SHAPE = (APEX, HEIGHT, AREA, HALF), (PLATES, TAILING, ASYMMETRY, "skewness")
SUMS = (AREA, MEAN, VARIANCE)
STATES = {
    "clipped": "a flat top, as of a detector at its limit; not measured: inject less",
    "gap": "points are missing within the window; not measured",
    "cut": "the window is cut short by a neighbour or by the end of the signal",
}
UNMEASURED = ("clipped", "gap")
BASELINES = {
    "constant": "a constant, the mean of the blank stretches on both sides",
    "line": "a straight line through the blank stretches on both sides",
    "smooth": "a curve that bends slowly (asymmetric least squares), and a constant",
}
FROM = {"file": "as the file says", "option": "as given", "assumed": "taken: the file does not say"}
FEW_POINTS, DRIFT_SHARE = 10, 0.01
METHOD = (
    "The window of a peak ends, on either side, where its flank, continued as an exponential from "
    f"between half and a tenth of the height, falls to {LAST:g} of the noise; between neighbours "
    "it ends at the valley.",
    "Peaks are smoothed over 0.3 of their width at half height to either side by polynomials of "
    "fourth degree, which leave moments as they are.",
    "Noise is the scatter about straight lines through blank stretches; with its correlation from "
    "point to point it is drawn again up to 200 times onto each peak, and the metrics scatter "
    "accordingly. To this standard uncertainty is added in quadrature what a window "
    f"{WIDER:g} times as long and a baseline from the nearer half of the blank stretches change "
    "beyond noise.",
    "The signal-to-noise ratio is twice the height over the range of the noise about a straight "
    f"line, over {NOISE_WIDTHS:g} widths of the peak at half height, of the longest blank stretch "
    "as near to the peak as it goes (Ph. Eur. 2.2.46, USP <621>; from memory).",
    "Not resolved: noise changes it by more than half (a time: by half the peak's width) in more "
    "than one draw of twenty, or another window or baseline does; and moments where the area is "
    "not resolved, or where they mean nothing: a mean outside the window, a variance below zero.",
    "Not in it: whether the time base, the calibration or the linearity of the detector are right.",
)


def unit_of(file: Measurement) -> str:
    """Unit of the signal, as the file has it."""
    return file.signal.signal_unit or "units"


def understood(file: Measurement) -> Iterator[str]:
    """How a file was read."""
    signal, how = file.signal, file.signal.layout
    if how.encoding:
        between = f"{how.delimiter} between columns, " if how.delimiter else ""
        yield (
            f"{file.name}: text in {how.encoding}, {between}decimal {how.decimal}, points in lines "
            f"{how.first_line} to {how.last_line}."
        )
    else:
        yield f"{file.name}: {how.form}."
    times = {
        "rows": f"column {how.time_column}",
        "header": "start and interval in the header",
        "option": "the interval given",
    }.get(how.times_from, how.time_column)
    unit = f"in {signal.signal_unit}" if signal.signal_unit else "in a unit that is not said"
    yield (
        f"Time from {times}, in {how.time_unit} ({FROM[how.time_unit_from]}); signal from "
        f"{how.signal_column or 'the only column'}, {unit}."
    )
    spaced = "evenly spaced" if file.even else "unevenly spaced, read by a cubic spline"
    yield (
        f"{signal.times.size} points {significant(file.interval, 4)} s apart, {spaced}, from "
        f"{significant(float(signal.times[0]), 5)} s to "
        f"{significant(float(signal.times[-1]), 5)} s."
    )
    yield from _noise(file)


def _noise(file: Measurement) -> Iterator[str]:
    noise, unit = file.noise, unit_of(file)
    where = f"from {noise.points} blank points" if noise.points else "from third differences"
    kind = f"neighbours correlated by {noise.correlation:.2f}" if noise.correlation else "white"
    slow = (
        ""
        if not noise.points
        else (
            f"; drift {significant(60 * noise.drift, 2)} {unit}/min, wander about it "
            f"{significant(noise.wander, 2)} {unit}"
        )
    )
    yield (
        f"Noise {significant(noise.deviation, 2)} {unit} (standard deviation, {where}), {kind}, "
        f"{significant(noise.peak_to_peak, 2)} {unit} peak to peak{slow}."
    )
    blank = f"; the blank run {file.baseline_from} is taken off first" if file.baseline_from else ""
    yield f"Baseline: {BASELINES[file.baseline]}{blank}."


def cautions(file: Measurement) -> Iterator[str]:
    """What to be careful about."""
    signal, name = file.signal, file.name
    if signal.layout.time_unit_from == "assumed" and signal.layout.times_from == "rows":
        yield f"{name}: the file does not say the unit of time; taken as {signal.layout.time_unit}"
    if signal.duplicates:
        yield f"{name}: {signal.duplicates} points at a time that was there already, averaged"
    if signal.missing:
        yield f"{name}: {signal.missing} points without a value, left out"
    if file.gaps:
        start, end = file.gaps[0]
        count = len(file.gaps)
        which = (
            "1 stretch without points,"
            if count == 1
            else f"{count} stretches without points, the first"
        )
        yield f"{name}: {which} from {significant(start, 4)} s to {significant(end, 4)} s"
    if points_down(signal.values):
        yield (
            f"{name}: the largest peak points down, and is not measured: turn the polarity if it "
            "is meant"
        )
    for state, meaning in STATES.items():
        held = [peak for peak, one in zip(file.peaks, file.states, strict=True) if one == state]
        if held:
            word = "peak" if len(held) == 1 else "peaks"
            yield f"{name}: {word} {', '.join(held)}: {meaning}"
    yield from (f"{name}: {line}" for line in _of_peaks(file))


def _of_peaks(file: Measurement) -> Iterator[str]:
    """The same of peaks, those of one caution together."""
    widths, rooms = file.metrics[HALF] / file.interval, file.noise_widths
    rises = abs(file.noise.drift) * (file.window_end - file.window_start)
    with np.errstate(invalid="ignore"):
        few = np.flatnonzero(widths < FEW_POINTS)
        short = np.flatnonzero(rooms < LEAST_WIDTHS)
        drifts = np.flatnonzero(rises > DRIFT_SHARE * file.metrics[HEIGHT])

    def which(found: Any) -> str:
        names = ", ".join(file.peaks[at] for at in found)
        return f"peak {names}" if len(found) == 1 else f"peaks {names}"

    if few.size:
        yield (
            f"{which(few)}: {_range(widths[few], '.0f')} points above half the height; "
            f"{FEW_POINTS} or more are usual (common practice, no source)"
        )
    if short.size:
        yield (
            f"{which(short)}: noise for the signal-to-noise ratio over "
            f"{_range(rooms[short], '.2g')} widths at half height, for want of blank points; "
            f"{NOISE_WIDTHS:g} are usual, {LEAST_WIDTHS:g} the least (Ph. Eur. 2.2.46, USP <621>; "
            "from memory)"
        )
    if drifts.size:
        ends = (significant(one, 2) for one in (rises[drifts].min(), rises[drifts].max()))
        yield (
            f"{which(drifts)}: the baseline drifts by {' to '.join(dict.fromkeys(ends))} "
            f"{unit_of(file)} over {'its window' if drifts.size == 1 else 'their windows'}"
        )


def _range(values: FloatArray, form: str) -> str:
    return " to ".join(dict.fromkeys(f"{one:{form}}" for one in (values.min(), values.max())))


def _column(file: Measurement, name: str, label: str = "") -> Column:
    description = metric_description(name)
    unit = {"signal": unit_of(file), "signal s": f"{unit_of(file)} s"}.get(
        str(description.unit), ""
    )
    shown = "" if description.unit == "1" else str(description.unit)

    return Column(
        head=(label or description.label, unit or shown), text=lambda at: _value(file, name, at)
    )


def _value(file: Measurement, name: str, at: int) -> str:
    """A metric of a peak; whether it is not measured or not resolved."""
    value, error = (float(one[name][at]) for one in (file.metrics, file.uncertainty))
    measured = file.states[at] not in UNMEASURED
    return NOT_RESOLVED if measured and np.isnan(value) else with_error(value, error)


def peaks_tables(file: Measurement) -> list[Table]:
    """Every peak, with standard uncertainties: place and size, then shape."""
    peak = words("peak", lambda at: file.peaks[at])
    noise = words("signal", lambda at: significant(float(file.signal_to_noise[at]), 2), "/ noise")
    place = [peak, *(_column(file, name) for name in PLACE), noise]
    shape = [peak, *(_column(file, name) for name in SHAPE)]
    rows = range(len(file.peaks))
    return [
        tabulated("Peaks (± standard uncertainty)", place, rows),
        tabulated("Their shape (± standard uncertainty)", shape, rows),
    ]


def moments_table(file: Measurement) -> Table:
    """Sums over the window, where their uncertainty is from, and how they hang on the window."""
    rows = [(at, name) for at in range(len(file.peaks)) for name in SUMS]

    def part(field: str, head: str, under: str = "") -> Column:
        def text(row: tuple[int, str]) -> str:
            return significant(float(getattr(file, field)[row[1]][row[0]]), 2)

        return words(head, text, under)

    columns = [
        words("peak and sum", lambda row: f"{file.peaks[row[0]]} {metric_word(row[1], file)}"),
        words("window", lambda row: significant(float(file.window_start[row[0]]), 5), "from, s"),
        words("window", lambda row: significant(float(file.window_end[row[0]]), 5), "to, s"),
        words("value", lambda row: _value(file, row[1], row[0])),
        part("noise_part", "from", "noise"),
        part("window_part", "from", "window"),
        part("baseline_part", "from", "baseline"),
        part("wider", "window", f"x {WIDER:g}"),
        part("narrower", "window", f"x {NARROWER:g}"),
    ]
    title = "Sums over the window: uncertainty by origin, and change with another window"
    return tabulated(title, columns, rows)


def metric_word(name: str, file: Measurement) -> str:
    """Label and unit of a metric."""
    description = metric_description(name)
    unit = {"signal": unit_of(file), "signal s": f"{unit_of(file)} s"}.get(
        str(description.unit), description.unit
    )
    return description.label if unit == "1" else f"{description.label}, {unit}"


def marks_table(file: Measurement) -> Table | None:
    """The file's own integration, and the same marks measured here; None where it has none."""
    if not file.signal.marks:
        return None

    def column(field: str, measured: str) -> list[Column]:
        description = descriptions(Mark)[field]
        unit = {"signal": unit_of(file), "signal s": f"{unit_of(file)} s"}.get(
            str(description.unit), "s"
        )
        head = Description(meaning=description.meaning, unit="1", label=description.label, digits=6)
        return [
            numbers(head, lambda at: getattr(file.signal.marks[at], field), under=f"file, {unit}"),
            numbers(head, lambda at: getattr(file, measured)[at], under="measured"),
        ]

    columns = [
        words("peak of the file", lambda at: file.signal.marks[at].name),
        *column("apex", "mark_apex"),
        *column("height", "mark_height"),
        *column("area", "mark_area"),
    ]
    return tabulated(
        "Between the marks of the file, over its baseline", columns, range(len(file.signal.marks))
    )


def marks_line(file: Measurement) -> str:
    """How far the file's own numbers and those measured between its marks are apart."""
    marks = file.signal.marks
    apart = {
        "areas": np.abs(file.mark_area / np.array([one.area for one in marks]) - 1),
        "heights": np.abs(file.mark_height / np.array([one.height for one in marks]) - 1),
    }
    apart_by = [
        f"{name} within {max(100 * float(np.nanmax(one)), 0.001):.2g} %"
        for name, one in apart.items()
    ]
    return f"The file's own {' and '.join(apart_by)} of what is measured between its marks."


def repeats_table(repeats: Repeats, file: Measurement) -> Table:
    """Repeats: mean, and whether they scatter as the single uncertainties foresee."""
    rows = [(at, name) for at in range(len(repeats.peaks)) for name in (*PLACE, *SHAPE)]

    def read(field: str) -> Any:
        return lambda row: significant(float(getattr(repeats, field)[row[1]][row[0]]), 2)

    def value(row: tuple[int, str]) -> str:
        at, name = row
        return with_error(float(repeats.mean[name][at]), float(repeats.uncertainty[name][at]))

    columns = [
        words(
            "peak and metric", lambda row: f"{repeats.peaks[row[0]]} {metric_word(row[1], file)}"
        ),
        words("mean", value, "± standard uncertainty"),
        words("standard deviation", read("deviation"), "of the repeats"),
        words("foreseen", read("expected"), "from noise"),
    ]
    return tabulated(f"{repeats.count} files as repeats of one measurement", columns, rows)


def conclusion(study: Measured) -> str:
    """One sentence on all files, and one on each."""
    peaks = sum(len(one.peaks) for one in study.files.values())
    files = "1 file" if len(study.files) == 1 else f"{len(study.files)} files"
    count = f"{peaks} {'peak' if peaks == 1 else 'peaks'} measured in {files}."
    return "\n".join([count, *map(_highest, study.files.values())])


def _highest(file: Measurement) -> str:
    """The highest peak of a file in one sentence."""
    heights = file.metrics[HEIGHT]
    if not np.isfinite(heights).any():
        return f"{file.name}: no peak that could be measured."
    at = int(np.nanargmax(heights))
    said = "the peak" if len(file.peaks) == 1 else f"the highest of {len(file.peaks)} peaks"
    return (
        f"{file.name}: {said} at {_value(file, APEX, at)} s; width at half height "
        f"{_value(file, HALF, at)} s, plates {_value(file, PLATES, at)}, tailing "
        f"{_value(file, TAILING, at)}, signal-to-noise ratio "
        f"{significant(float(file.signal_to_noise[at]), 2)} (± standard uncertainty)."
    )


def sections(study: Measured) -> list[Section]:
    """One a file, and one for repeats."""
    blocks = []
    for at, file in enumerate(study.files.values()):
        marks = marks_table(file)
        lines = [*understood(file), *([marks_line(file)] if marks else [])]
        tables = [*peaks_tables(file), moments_table(file), *([marks] if marks else [])]
        blocks.append(Section(title=file.name, lines=lines, tables=tables, pictures=[at]))
    if study.repeats is not None:
        table = repeats_table(study.repeats, next(iter(study.files.values())))
        blocks.append(Section(title="Repeats", tables=[table]))
    return blocks


def _file(file: Measurement) -> dict[str, Any]:
    signal = file.signal
    return {
        "file": file.name,
        "sha256": signal.sha256,
        "points": int(signal.times.size),
        "interval": file.interval,
        "even": file.even,
        "time_unit": signal.layout.time_unit,
        "signal_unit": signal.signal_unit,
        "understood": list(understood(file)),
        "cautions": list(cautions(file)),
        "noise": file.noise.deviation,
        "noise_correlation": file.noise.correlation,
        "noise_peak_to_peak": file.noise.peak_to_peak,
        "drift": file.noise.drift,
        "wander": file.noise.wander,
        "baseline": file.baseline,
        "peaks": [_peak(file, at) for at in range(len(file.peaks))],
        "integration": [
            plain(mark)
            | {
                "measured": {
                    "apex": plain(float(file.mark_apex[at])),
                    "height": plain(float(file.mark_height[at])),
                    "area": plain(float(file.mark_area[at])),
                }
            }
            for at, mark in enumerate(signal.marks)
        ],
    }


def _peak(file: Measurement, at: int) -> dict[str, Any]:
    def reported(field: str) -> dict[str, Any]:
        return {name: plain(float(one[at])) for name, one in getattr(file, field).items()}

    return {
        **reported("metrics"),
        "signal_to_noise": plain(float(file.signal_to_noise[at])),
        "noise_widths": next(map(float, file.noise_widths[at : at + 1]), None),
        "window": [float(file.window_start[at]), float(file.window_end[at])],
        "state": file.states[at],
        "uncertainty": {**reported("uncertainty"), "signal_to_noise": None},
        "uncertainty_from_noise": reported("noise_part"),
        "uncertainty_from_window": reported("window_part"),
        "uncertainty_from_baseline": reported("baseline_part"),
        "wider_window": reported("wider"),
        "narrower_window": reported("narrower"),
    }


def drawings(study: Measured) -> Drawings:
    """One a file."""

    def drawn(one: Measurement) -> Any:
        from tailrace.figures.measured import draw_measurement

        return draw_measurement(one)

    files = enumerate(study.files.values(), 1)
    return {f"signal-{at}": partial(drawn, one) for at, one in files}


def numbers_of(study: Measured) -> dict[str, Any]:
    """What is in the JSON object; heights and areas in the signal's unit, the rest SI."""
    return {
        "files": [_file(one) for one in study.files.values()],
        "repeats": None if study.repeats is None else plain(study.repeats),
    }


TOLD = Telling(
    title="Measured",
    method=METHOD,
    conclusion=conclusion,
    sections=sections,
    numbers=numbers_of,
    cautions=lambda study: [line for one in study.files.values() for line in cautions(one)],
    drawings=drawings,
    files=lambda study: [(one.name, one.signal.sha256) for one in study.files.values()],
    calculated=False,
)
