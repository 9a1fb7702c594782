"""The tables of a run and of two solvers side by side."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from types import SimpleNamespace
from typing import Any

import numpy as np

from tailrace.journey.result import PartResult, Pressure, Regained, Result
from tailrace.journey.verification import CrossCheck
from tailrace.measures import METRICS, SIGNALS
from tailrace.measures.chromatogram import LEAST_VALLEY
from tailrace.measures.registry import (
    APEX,
    ASYMMETRY,
    CAPACITY,
    EXTRA_COLUMN,
    FROM_VALLEY,
    HEIGHT,
    PLATES,
    PLATES_OWN,
    PLATES_PRINTED,
    PRINTED,
    RECOVERED,
    REDUCED,
    RELATIVE_NOISE,
    RELATIVE_RETENTION,
    RELATIVE_SIGNAL,
    RESOLUTION,
    RETENTION,
    SELECTIVITY,
    TAILING,
    WIDTH,
    leading,
    of_peaks,
)
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.described import descriptions
from tailrace.records.separation import kept_fraction, separation, worst_first
from tailrace.records.trade import in_unit, people
from tailrace.report.numbers import ABSENT, percent, significant, with_error
from tailrace.report.sentences import ABOUT
from tailrace.report.table import Column, Table, field, numbers, tabulated, words

MOST_SOLUTES = 4
BELOW = "<"
ROUNDED = 1e-9
"""Of the amount injected: a sum that is off by less is right, whichever its sign."""
BEHIND = " (behind)"
"""After the name of a part that lies behind the recording."""
SQUARE_MICROLITRE = in_unit("m^6", "uL^2")


def parts_table(result: Result, lane: int) -> Table:
    """What each part adds to the band of one solute.

    The share is that of the simulated variance of all parts, the column among them. Where the
    column focuses, or stretches, it is that of what is ``left`` behind it, which then is the column
    that adds up.
    """
    focused = any(np.isfinite(part.gradient_focusing[lane]) for part in result.parts)
    total = _sum(result, "variance_recorded", lane)
    columns = [
        words("part", lambda part: part.name + BEHIND * part.behind),
        field(PartResult, "volume", lane=lane),
        field(PartResult, "residence", lane=lane),
        field(PartResult, "fourier_number", lane=lane, label="Fourier", under="number", digits=2),
        field(PartResult, "variance_gaussian_theory", lane=lane),
        field(PartResult, "variance_exact", lane=lane),
        field(PartResult, "variance_simulated", lane=lane),
        field(PartResult, "variance_volume", lane=lane),
        words("simulated", lambda part: _over_theory(part, lane, focused), "/ Gaussian"),
        *([words("left", lambda part: significant(part.variance_recorded[lane]), "s^2")] * focused),
        words("share", lambda part: _share(part.variance_recorded[lane], total), "%"),
    ]
    # What the injector holds is sample, not a volume on the path.
    path = [part for part in result.parts if not part.injects and not part.behind]
    volume = np.nansum([part.volume[lane] for part in path]) / in_unit("m^3", "uL")
    held = np.nansum([part.residence[lane] for part in path])
    volumes = significant(_sum(result, "variance_volume", lane) / SQUARE_MICROLITRE)
    whole = (
        "up to the recording" if any(part.behind for part in result.parts) else "whole path",
        significant(float(volume)),
        columns[2].text(SimpleNamespace(residence={lane: held})),
        *[""] * 3,
        *(["", "", "", significant(total)] if focused else [significant(total), volumes, ""]),
        percent(1.0 if total > 0 else float("nan")),
    )
    title = f"Variance that each part adds: {result.lanes[lane]}"
    if focused:
        title += " (left: what reaches the recorder of it, since it is focused)"
    return tabulated(title, columns, result.parts, whole)


def regained_table(result: Result) -> Table | None:
    """What would come back if each part alone were ideal, that which brings most back first.

    A column for each of the first solutes, that which loses most in front and deciding the order;
    with several solutes the resolution of the critical pair. None where not asked.
    """
    regained = result.regained
    if regained is None:
        return None
    order = worst_first(result)
    metric, back = leading(result.recorded), regained.leading
    what = metric.label if CAPACITY in result.recorded else METRICS[PLATES].label
    columns = [words("part", lambda name: name)]
    for lane in order[:MOST_SOLUTES]:
        columns.append(words(result.lanes[lane], partial(_back, regained, lane), f"{what} back"))
    if len(result.lanes) > 1:
        columns.append(words("critical pair", partial(_apart, result, regained), "resolution"))
    rows = sorted(back, key=lambda name: -np.nan_to_num(back[name][order[0]], nan=-np.inf))
    found = tabulated(
        "What would come back if one part alone were ideal, adding no broadening", columns, rows
    )
    if any(BELOW in cell for row in found.rows for cell in row):
        return replace(found, title=f"{found.title} ({BELOW}: below the discretisation error)")
    return found


def _back(regained: Regained, lane: int, name: str) -> str:
    back, error = regained.leading[name][lane], regained.numerical_error[name][lane]
    if np.abs(back) <= error:
        return f"{BELOW} {significant(float(error), 2)}" if error > 0 else "0"
    return with_error(float(back), float(error))


def _apart(result: Result, regained: Regained, name: str) -> str:
    """Of the critical pair: known as well as the widths of its peaks, half as well as plates."""
    pair, back = separation(result), regained.resolution[name]
    metric = leading(result.recorded).name
    shares = regained.numerical_error[name] / result.recorded[metric]
    error = float(np.max(shares)) * (1.0 if metric == CAPACITY else 0.5)
    if pair.critical is None or not np.isfinite(error):
        return significant(back, 2)
    error *= float(pair.half_height[pair.critical])
    return f"{BELOW} {significant(error, 2)}" if abs(back) <= error else significant(back, 2)


def recorded_table(result: Result) -> Table:
    """What is recorded of each solute, the one that loses most first.

    Plates are from the width at half height, at the column's own retention and by the recorded
    time; with a gradient, where they mean nothing, the peak capacity stands in their place. ``±``
    is the estimated discretisation error.
    """
    metric = leading(result.recorded)
    kept, alone = kept_fraction(result), result.column_alone or {}
    nowhere, own = np.full(len(result.lanes), np.nan), metric.name == PLATES_OWN
    columns = [
        words("solute", lambda lane: result.lanes[lane]),
        numbers(
            METRICS[PLATES].description if own else metric.description,
            lambda lane: alone.get(metric.name, nowhere)[lane],
            under=f"of {_columns_of(result)}",
        ),
        _leading_column(result, own),
        words("kept", lambda lane: percent(kept[lane]), "%"),
        *([_plain_plates(result)] if own else ()),
        metric_column(result, TAILING, "tailing", "at 5 %"),
        metric_column(result, ASYMMETRY, "asymmetry", "at 10 %"),
        metric_column(result, WIDTH, "width at", "half height"),
    ]
    what = METRICS[PLATES].label if own else metric.label
    title = f"What is recorded ({what} from the half height; ± discretisation error)"
    return tabulated(title, columns, worst_first(result))


def _columns_of(result: Result) -> str:
    """The columns before the recording: ``column``, or all of them together."""
    names = [part.name for part in result.parts if part.separates and not part.behind]
    return "column" if len(names) < 2 else "all columns"


def _leading_column(result: Result, own: bool) -> Column:
    """Plates with their error; peak capacity with four digits, since the plate height behind it is
    known no better."""
    metric = leading(result.recorded)
    if own:
        return metric_column(result, metric.name, "plates at own", "retention")
    if metric.name != CAPACITY:
        return metric_column(result, metric.name, metric.label, "recorded")
    values = result.recorded[CAPACITY]
    return numbers(metric.description, lambda lane: values[lane], under="recorded", digits=4)


def _plain_plates(result: Result) -> Column:
    def plates(lane: int) -> float:
        return float(result.recorded[PLATES][lane])

    return numbers(METRICS[PLATES].description, plates, label="plates by", under="time")


def amounts_table(result: Result) -> Table:
    """What is recorded of the amount of each solute, and what all parts but the column broaden.

    The variance in volume is that which reaches the recorder; ``±`` its discretisation error.
    """
    lost = np.nansum([part.amount_lost for part in result.parts], axis=0)

    def recovered(lane: int) -> str:
        share = result.recorded[RECOVERED][lane]
        return f"{100 * share:.4f}" if np.isfinite(share) else ABSENT

    def cut_off(lane: int) -> str:
        return f"{BELOW} 1e-9" if abs(lost[lane]) < ROUNDED else significant(lost[lane], 2)

    columns = [
        words("solute", lambda lane: result.lanes[lane]),
        metric_column(result, EXTRA_COLUMN, "extra-column", "variance"),
        words("recovered", recovered, "%"),
        words("cut off by", cut_off, "windows"),
    ]
    return tabulated("Extra-column variance and amount", columns, worst_first(result))


def metric_column(result: Result, name: str, label: str, under: str) -> Column:
    """A recorded metric with its error, of rows that are lanes; a dash where there is none."""
    nowhere = np.full(len(result.lanes), np.nan)

    def of(group: dict[str, FloatArray]) -> Callable[[Any], Any]:
        return lambda lane: group.get(name, nowhere)[lane]

    return numbers(
        METRICS[name].description,
        of(result.recorded),
        of(result.numerical_error),
        label=label,
        under=under,
    )


def metrics_table(result: Result, lane: int) -> Table:
    """Every metric read off one recorded peak, with its estimated discretisation error.

    A dash where a metric, or its error, does not exist.
    """
    nothing = np.full(len(result.lanes), np.nan)

    def sized(row: Any, group: dict[str, FloatArray]) -> float:
        return float(group.get(row.name, nothing)[lane]) / people(row.unit, row.shown).size

    def error(row: Any) -> str:
        return significant(abs(sized(row, result.numerical_error)), 2)

    columns = [
        words("metric", lambda row: row.meaning),
        words("", lambda row: people(row.unit, row.shown).unit, "unit"),
        words("recorded", lambda row: significant(sized(row, result.recorded), 5), "value"),
        words("discretisation", error, "error"),
    ]
    rows = [row for name, row in of_peaks().items() if name in result.recorded]
    return tabulated(f"Metrics of the recorded peak: {result.lanes[lane]}", columns, rows)


def signal_table(result: Result) -> Table:
    """Height of each solute, and noise where one is given; the one that loses most first.

    ``in the cell`` is the greatest share of the amount in a millilitre; ``height kept`` the
    recorded height over that of the column's own peak, with its discretisation error. What is
    absolute is shown where it is known of one solute.
    """
    signal = result.signal

    def of(name: str, label: str, under: str | None = None) -> Column:
        description = SIGNALS[name].description
        return numbers(description, lambda lane: signal[name][lane], label=label, under=under)

    columns = [
        words("solute", lambda lane: result.lanes[lane]),
        of("concentration_in_cell", "in the cell"),
        words("height kept", lambda lane: _kept(result, lane), "%"),
    ]
    known = {name: bool(np.isfinite(signal[name]).any()) for name in ("absorbance", "noise")}
    if known["noise"]:
        columns += [
            of(RELATIVE_NOISE, "noise over", "that at 1 s"),
            of("relative_signal_to_noise", "height kept", "over noise"),
        ]
    if known["absorbance"]:
        columns.append(of("absorbance", "height"))
    if known["noise"]:
        columns += [of("noise", "noise"), of("signal_to_noise", "signal", "to noise")]
    path = signal["light_path"][0]
    where = f"light path {significant(1000 * path)} mm" if np.isfinite(path) else "no light path"
    what = f"Signal and noise ({where}; white noise" if known["noise"] else f"Signal ({where}"
    title = f"{what}; ± discretisation error)"
    return tabulated(title, columns, worst_first(result))


def _kept(result: Result, lane: int) -> str:
    kept = float(result.signal[RELATIVE_SIGNAL][lane])
    error = result.numerical_error.get(HEIGHT)
    if error is None:
        return percent(kept)
    return with_error(100 * kept, 100 * kept * error[lane] / result.recorded[HEIGHT][lane])


def separation_table(result: Result) -> Table:
    """Every pair of neighbours, in the order of elution.

    A dash where two peaks have run into one, or where the valley lies on the base line.
    """
    pairs = separation(result)
    resolution = METRICS[RESOLUTION].description

    def of(name: str) -> Callable[[Any], Any]:
        return lambda pair: getattr(pairs, name)[pair]

    columns = [
        words("neighbours", lambda pair: f"{pairs.first[pair]} / {pairs.second[pair]}"),
        numbers(resolution, of("column_alone"), under=f"of {_columns_of(result)}"),
        numbers(resolution, of(RESOLUTION), of("numerical_error"), under="recorded"),
        words("valley over", lambda pair: percent(pairs.valley_to_peak[pair]), "lower peak, %"),
        numbers(resolution, of(FROM_VALLEY), of("from_valley_error"), under="from valley"),
    ]
    title = "Neighbours (resolution from the widths at half height; ± discretisation error)"
    return tabulated(title, columns, range(len(pairs.first)))


def printed_tables(result: Result) -> list[Table]:
    """What data systems print by the definitions of pharmacopoeias, with their rounded factors.

    Of single peaks no more than their time with a gradient; of neighbours where there are any.
    """
    names = (PLATES_PRINTED, RETENTION, REDUCED)
    heads = ("plates,", "5.54"), ("retention", "factor k"), ("reduced plate", "height")
    known = [
        (name, head)
        for name, head in zip(names, heads, strict=True)
        if np.isfinite(result.recorded.get(name, np.nan)).any()
    ]
    if RETENTION not in dict(known):
        known = []

    def minutes(name: str, lane: int) -> str:
        time, error = (each[name][lane] / 60 for each in (result.recorded, result.numerical_error))
        return with_error(time, error)

    columns = [
        words("solute", lambda lane: result.lanes[lane]),
        words("retention time", partial(minutes, APEX), "min"),
        words("width at half", partial(minutes, WIDTH), "height, min"),
        *(metric_column(result, name, *head) for name, head in known),
    ]
    title = "As data systems print it (times are recorded, k from them; ± discretisation error)"
    found = [tabulated(title, columns, range(len(result.lanes)))]
    pairs = separation(result)
    columns = [
        words("neighbours", lambda pair: f"{pairs.first[pair]} / {pairs.second[pair]}"),
        *(
            numbers(METRICS[name].description, getattr(pairs, name).__getitem__)
            for name in (PRINTED, RELATIVE_RETENTION, SELECTIVITY)
        ),
        words("peak-to-valley", lambda pair: deep(pairs.peak_to_valley[pair]), "ratio"),
    ]
    if pairs.first:
        title = "Neighbours as data systems print them"
        found.append(tabulated(title, columns, range(len(pairs.first))))
    return found


def deep(ratio: float, digits: int = 3) -> str:
    """A peak-to-valley ratio as far as a valley is told."""
    most = 1 / LEAST_VALLEY
    return f"over {most:g}" if ratio >= most else significant(ratio, digits)


def signal_tables(result: Result) -> list[Table]:
    """The tables on signal and neighbours that this result has."""
    found = [signal_table(result)] if result.signal else []
    if len(result.lanes) > 1:
        found.append(separation_table(result))
    return [*found, *printed_tables(result)]


def check_tables(check: CrossCheck) -> list[Table]:
    """Two tables for each solute: the band behind each part, and what is recorded."""
    return [
        table(check, lane)
        for lane in range(len(check.lanes))
        for table in (_check_of_parts, _check_of_metrics)
    ]


def _check_of_parts(check: CrossCheck, lane: int) -> Table:
    columns = [
        words("part", str),
        words("band behind", lambda name: _small(check.signal[name][lane]), "apart, L2"),
        words("variance added", lambda name: _small(check.variance[name][lane]), "relative"),
    ]
    return tabulated(
        f"Finite differences against spectral: {check.lanes[lane]}", columns, check.signal
    )


def _check_of_metrics(check: CrossCheck, lane: int) -> Table:
    columns = [
        words("recorded", _with_unit),
        words("value", lambda name: significant(check.values[name][lane], 5), "SI"),
        words("difference", lambda name: _small(check.differences[name][lane]), "SI"),
        words("foreseen", lambda name: _small(check.foreseen[name][lane]), "SI"),
    ]
    return tabulated(f"Recorded metrics: {check.lanes[lane]}", columns, check.differences)


def _with_unit(name: str) -> str:
    """A metric as people call it, with its SI unit; of one that is not known its name."""
    if name not in METRICS:
        return name
    label, unit = METRICS[name].label, METRICS[name].unit
    return label if unit == "1" else f"{label}, {unit}"


def _small(value: float) -> str:
    return significant(value, 2) if np.isfinite(value) else ABSENT


def pressure_table(pressure: Pressure) -> Table:
    """The pressure drop of each part, in bar."""
    description = descriptions(Pressure)["parts"]
    columns = [words("part", lambda row: row[0]), numbers(description, lambda row: row[1])]
    total = ("whole path", columns[1].text(("", pressure.total)))
    return tabulated(
        f"Pressure drop of each part ({ABOUT})", columns, pressure.parts.items(), total
    )


def _sum(result: Result, name: str, lane: int) -> float:
    return float(np.nansum([getattr(part, name)[lane] for part in result.parts]))


def _over_theory(part: PartResult, lane: int, focused: bool) -> str:
    """Over the textbook, which is of one composition; none of a column that focuses on the way."""
    theory = float(part.variance_gaussian_theory[lane])
    if focused and part.separates and np.isfinite(part.gradient_focusing[lane]):
        return ABSENT
    return significant(float(part.variance_simulated[lane]) / theory) if theory > 0 else ABSENT


def _share(variance: float, total: float) -> str:
    return percent(variance / total) if total > 0 else ABSENT
