"""The tables of ``improve``: steps, changes, frontiers, expectations, and what they rest on."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from tailrace.journey.result import Result
from tailrace.measures.registry import CAPACITY, METRICS, PLATES, PLATES_OWN, TAILING, WIDTH
from tailrace.quantities.arrays import IntArray
from tailrace.records.separation import worst_first
from tailrace.records.trade import in_words, people
from tailrace.report.improvement.pressures import at_its_highest
from tailrace.report.improvement.sentences import (
    CONSTRAINTS,
    ORDERS,
    bars,
    broken,
    forbidden,
    gained,
    in_bar,
    letters,
    listed,
    metric_label,
    minutes,
    money,
    ratio,
    share,
    spoken_time,
    step_name,
)
from tailrace.report.improvement.work import settings, works
from tailrace.report.numbers import ABSENT, percent, significant, with_error
from tailrace.report.sentences import ABOUT
from tailrace.report.table import Column, Table, tabulated, words
from tailrace.report.tables import parts_table, recorded_table
from tailrace.studies.improving.result import Change, Expectation, Improvement, Step

MOST_ROWS = 8
"""Of one frontier; of more, rows at even distances are shown, the last among them."""
AT_THE_BENCH = {
    WIDTH: "width at half height",
    PLATES: "plates, half height",
    PLATES_OWN: "plates, half height, own time",
    TAILING: "tailing at 5 %",
}
"""Expected metrics whose label alone would not say how to measure them."""
NO_BAND = "none can be given"
"""In place of an interval where the scenario states no uncertainty."""
DIGITS = 4
"""Of an expected metric, at most."""
IN_BAR = f"bar {ABOUT.replace(' ', '')}"
"""Head of pressures, no wider than they are."""
DEMANDS = {
    "cost": ("cost", "", money, "for the money"),
    "effort": ("effort", "min", minutes, "for the work"),
    "pressure": ("pressure", IN_BAR, bars, "at a pressure"),
    "signal_to_noise": (
        "signal to",
        "noise",
        ratio,
        "at a signal-to-noise ratio (over the start's)",
    ),
}
"""Frontiers: head of the column, how its values are written, and the end of the title."""


def steps_table(improvement: Improvement) -> Table:
    """What each step of the best order brings and costs; the first row is the start.

    ``brought back`` is the share of the start's loss that all steps so far have brought back;
    signal over noise is that over the start's.
    """
    steps, last = improvement.steps, improvement.steps[-1]

    def of_change(cell: Callable[[Step], str]) -> Callable[[Step], str]:
        return lambda step: cell(step) if step.number else ""

    sign, error = improvement.aim.sign, math.hypot(last.error, steps[0].error)
    columns: list[Column] = [
        words("step", step_name),
        words(_head(improvement), lambda one: with_error(one.value, one.error), "after it"),
        words("gain", of_change(lambda one: gained(one.gain, one.gain_error))),
        words("brought", lambda one: share(one.recovered), "back, %"),
        words("cost", of_change(lambda one: money(one.cost))),
        words("effort", of_change(lambda one: minutes(one.effort)), "min"),
        words("pressure", lambda one: bars(one.pressure), IN_BAR),
        words("in cell", lambda one: bars(one.cell_pressure), "bar"),
        words("signal", lambda one: ratio(one.signal_to_noise), "/ noise"),
        words("gain by", of_change(lambda one: gained(one.theory_gain, one.gain_error)), "theory"),
    ]
    total = [
        "all of them",
        "",
        gained(sign * (last.value - steps[0].value), error),
        "",
        money(last.total_cost),
        minutes(last.total_effort),
        *[""] * 3,
        gained(sign * (last.theory - steps[0].theory), error),
    ]
    if not any(step.cell_pressure > 0 for step in steps):
        del columns[7], total[7]
    title = (
        f"Steps in the best order ({improvement.aim.label}; ± discretisation error; theory: "
        f"sum of textbook variances{at_its_highest(improvement).replace(',', '; pressures', 1)})"
    )
    return tabulated(title, columns, steps, total if last.number else ())


def changes_table(improvement: Improvement) -> Table:
    """What each change is worth: first, last, and its Shapley value.

    Every change has a letter, by which other tables name it.
    """
    table, whole = improvement.combinations, improvement.whole_gain
    error = math.hypot(table.error[improvement.whole], table.error[0])

    def worth(cell: Callable[[Change], str]) -> Callable[[tuple[int, Change]], str]:
        return lambda row: ABSENT if row[1].heaters else cell(row[1])

    columns: list[Column] = [
        words("change", lambda row: f"{letters(row[0])} {row[1].name}"),
        words(
            "alone",
            lambda row: (
                "not allowed" if row[1].heaters else gained(row[1].alone, row[1].alone_error)
            ),
            "simulated",
        ),
        words("alone, by", worth(lambda one: gained(one.theory_alone, one.alone_error)), "theory"),
        words("as the", worth(lambda one: gained(one.last, one.last_error)), "last"),
        words(
            "Shapley",
            worth(lambda one: gained(one.share, math.hypot(error, one.share_error))),
            "value",
        ),
        words(
            "of total",
            worth(lambda one: share(one.share / whole) if abs(whole) > error else ABSENT),
            "gain, %",
        ),
        words("cost", lambda row: money(row[1].cost)),
        words("effort", lambda row: minutes(row[1].effort), "min"),
    ]
    title = (
        f"What each change brings ({improvement.aim.label}; Shapley value: its gain averaged "
        "over all orders)"
    )
    return tabulated(title, columns, enumerate(improvement.changes))


def frontier_table(improvement: Improvement, demand: str) -> Table:
    """What can be had for a demand (one of DEMANDS), in at most MOST_ROWS rows.

    Every combination in it keeps to the constraints, and no other brings more for less.
    """
    name, unit, written, end = DEMANDS[demand]
    table, frontier = improvement.combinations, improvement.frontiers[demand]

    def error(row: int) -> float:
        return math.hypot(table.error[row], table.error[0])

    columns: list[Column] = [
        words("changes", lambda row: _letters(improvement, row)),
        words(name, lambda row: written(getattr(table, demand)[row]), unit),
        words(
            _head(improvement),
            lambda row: with_error(float(table.value[row]), float(table.error[row])),
        ),
        words("gain", lambda row: gained(improvement.gain(row), error(row))),
        words("brought", lambda row: share(improvement.recovered(row)), "back, %"),
    ]
    rows = decimated(frontier)
    title = f"The most that can be had {end}"
    if len(rows) < len(frontier):
        title += f"; {len(rows)} of {len(frontier)} rows"
    return tabulated(title, columns, rows.tolist())


def frontier_tables(improvement: Improvement) -> list[Table]:
    """Those with more than one row."""
    return [
        frontier_table(improvement, demand)
        for demand in DEMANDS
        if len(improvement.frontiers[demand]) > 1
    ]


def decimated(rows: IntArray) -> IntArray:
    """At most MOST_ROWS of a (rows,) array, 1, at even distances, first and last among them."""
    if len(rows) <= MOST_ROWS:
        return rows
    picked: IntArray = np.unique(np.linspace(0, len(rows) - 1, MOST_ROWS).round().astype(np.int64))
    return rows[picked]


def _letters(improvement: Improvement, row: int) -> str:
    taken = np.flatnonzero(improvement.combinations.taken[row])
    return " ".join(letters(index) for index in taken.tolist()) or "none"


def _head(improvement: Improvement) -> str:
    """The aim's metric as the head of a column, which leaves room for the names beside it."""
    short = {"signal": "signal / noise", "plates": METRICS[PLATES].label}
    if improvement.aim.columns:
        return "kept, %"
    if improvement.aim.metric == CAPACITY:
        return improvement.aim.label
    return short.get(improvement.aim.key, improvement.aim.label)


def expected_table(improvement: Improvement) -> Table:
    """What to measure after each step, and within which interval."""
    rows = () if improvement.expected is None else improvement.expected.rows
    first = {row.step: row for row in reversed(rows)}
    columns: list[Column] = [
        words(
            "after step",
            lambda row: step_name(improvement.steps[row.step]) if first[row.step] is row else "",
        ),
        words("of", lambda row: row.of),
        words("metric", lambda row: shown(row)[0] + at_its_highest(improvement, row.metric)),
        words("expected", lambda row: shown(row)[1]),
        words("within", lambda row: shown(row)[2]),
    ]
    expected, within = improvement.expected, ""
    if expected is not None and expected.samples:
        kind = (
            "typical tolerances of makers" if expected.typical else "what the file calls uncertain"
        )
        within = f" (within: 95 % of {expected.samples} samples of {kind})"
    return tabulated(f"What a measurement should show{within}", columns, rows)


def shown(row: Expectation) -> tuple[str, str, str]:
    """Name, value and interval of an expectation, in the trade's units.

    The interval is rounded outward.
    """
    name = AT_THE_BENCH.get(row.metric, metric_label(row.metric))
    known = math.isfinite(row.low) and math.isfinite(row.high)
    if row.unit == "Pa":
        return name, in_bar(row.value), _pressures(row) if known else NO_BAND
    asked = METRICS.get(row.metric)
    read = people(row.unit or "1", "" if asked is None else asked.shown)
    unit, keys = f" {read.unit}".rstrip(), ("value", "low", "high", "error")
    row = replace(row, **{key: getattr(row, key) / read.size for key in keys})
    place = _place(row)
    value = _at(row.value, place, round)
    if not known:
        return name, f"{value}{unit}", NO_BAND
    low, high = _at(row.low, place, math.floor), _at(row.high, place, math.ceil)
    return name, f"{value}{unit}", f"{low} to {high}{unit}"


def _place(row: Expectation) -> int:
    """Decimals: two digits of the larger uncertainty, of interval and discretisation, at most four
    of the value: a bench reads no more."""
    width = max(np.nan_to_num(row.high - row.value), np.nan_to_num(row.value - row.low), row.error)
    most = DIGITS - 1 - math.floor(math.log10(abs(row.value) or 1))
    return min(most, 1 - math.floor(math.log10(width))) if width > 0 else most


def _at(value: float, decimals: int, to: Callable[[float], int]) -> str:
    """A number rounded to a place, one before the point where ``decimals`` is negative."""
    # A last bit too much must not move the rounded number on by one.
    steps = to(round(value * 10.0**decimals, 6))
    return f"{steps / 10.0**decimals:.{max(decimals, 0)}f}"


def _pressures(row: Expectation) -> str:
    low, high = in_bar(row.low), in_bar(row.high)
    if low == high:
        return low
    if low.partition(" ")[2] == high.partition(" ")[2]:
        low = low.partition(" ")[0]
    return f"{low} to {high}"


def asked(improvement: Improvement) -> list[tuple[str, str]]:
    """The question point by point: name and answer, the constraints of the scenario among them."""
    aim = improvement.aim
    of = aim.of or ("the worst pair" if aim.key == "resolution" else "the worst solute")
    better = "more" if aim.sign > 0 else "less"
    least = f"{100 * improvement.stop:g} % of what there is before it"
    limits = [
        (name, text(getattr(improvement.constraints, key)) + at_its_highest(improvement, key))
        for key, (_, name, text) in CONSTRAINTS.items()
        if math.isfinite(getattr(improvement.constraints, key))
    ]
    return [
        ("aim", f"{aim.label} of {of}, {better} is better"),
        ("best order", f"the one that {ORDERS[improvement.order]}"),
        ("a step is worth making from", least),
        *limits,
    ]


def choices_table(improvement: Improvement) -> Table:
    """Every change that could be made: its price, what it is tied to, and its cautions."""
    columns: list[Column] = [
        words("change", lambda row: f"{letters(row[0])} {row[1].name}"),
        words("cost", lambda row: money(row[1].cost)),
        words("work", lambda row: spoken_time(row[1].effort)),
        words("tied to", lambda row: "; ".join(_tied(row[1]))),
        words("caution", lambda row: _cautions(row[1].caution, _not_allowed(row[1]))),
    ]
    return tabulated("Changes that could be made", columns, enumerate(improvement.changes))


def uncertain_table(improvement: Improvement) -> Table | None:
    """Every input that the scenario calls uncertain, as it is written there; None without any."""
    given = tomllib.loads(improvement.scenario.text).get("uncertain", [])
    columns: list[Column] = [
        words("input", lambda one: in_words(one["field"])),
        words("as stated", lambda one: settings(one, omitted=("field", "because"))),
        words("because", lambda one: one.get("because", "")),
    ]
    return tabulated("Uncertain inputs", columns, given) if given else None


def work_table(improvement: Improvement) -> Table:
    """What is done in each step of the best order, with its cautions and broken constraints."""

    def cautions(step: Step) -> str:
        return _cautions(step.caution, *broken(improvement, step.combination))

    columns: list[Column] = [
        words("step", lambda row: step_name(row[0])),
        words("work", lambda row: "; ".join(row[1].tasks)),
        words("caution", lambda row: cautions(row[0])),
    ]
    rows = zip(improvement.steps, works(improvement), strict=True)
    return tabulated("What is done in each step", columns, rows)


def _tied(change: Change) -> Iterator[str]:
    if change.needs:
        yield f"needs {listed(change.needs)}"
    if change.excludes:
        yield f"not beside {listed(change.excludes)}"


def _not_allowed(change: Change) -> str:
    return f"Not allowed: {forbidden(change)}" if change.heaters else ""


def _cautions(*texts: str) -> str:
    return " ".join(f"{one.rstrip('.')}." for one in texts if one)


def error_table(improvement: Improvement) -> Table:
    """Value and gain of each step beside their discretisation errors."""

    def of_gain(cell: Callable[[Step], str]) -> Callable[[Step], str]:
        return lambda step: cell(step) if step.number else ""

    def relative(step: Step) -> str:
        return percent(step.error / abs(step.value)) if step.value else ABSENT

    columns: list[Column] = [
        words("step", step_name),
        words(improvement.aim.label, lambda one: significant(one.value, 6)),
        words("discretisation", lambda one: significant(one.error, 2), "error"),
        words("error,", relative, "%"),
        words("gain", of_gain(lambda one: significant(one.gain, 4))),
        words("discretisation", of_gain(lambda one: significant(one.gain_error, 2)), "error"),
        words(
            "gain",
            of_gain(
                lambda one: (
                    significant(one.gain / one.gain_error, 2) if one.gain_error > 0 else ABSENT
                )
            ),
            "over error",
        ),
    ]
    return tabulated("Discretisation error of the steps", columns, improvement.steps)


def state_tables(states: Mapping[str, Result]) -> list[Table]:
    """What is recorded in each state: every solute, with its error."""
    return [_of_state(recorded_table(result), name) for name, result in states.items()]


def part_tables(states: Mapping[str, Result]) -> list[Table]:
    """What each part adds in each state, for the solute that loses most at the start."""
    first = next(iter(states.values()))
    solute = first.lanes[worst_first(first)[0]]
    return [
        _of_state(parts_table(result, result.lanes.index(solute)), name)
        for name, result in states.items()
    ]


def _of_state(table: Table, name: str) -> Table:
    return replace(table, title=f"{name[:1].upper()}{name[1:]}: {table.title}")
