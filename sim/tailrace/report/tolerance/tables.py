"""The tables of ``tolerance``. ``±`` is a standard error from the finite number of samples."""

import math
from collections.abc import Callable, Iterable

import numpy as np

from tailrace.records.trade import Trade, in_words, trade
from tailrace.report.numbers import ABSENT, percent, significant, with_error
from tailrace.report.table import Column, Table, tabulated, words
from tailrace.report.tolerance import checking, readings, sentences
from tailrace.studies.tolerance.result import (
    Acceptance,
    Check,
    Outcome,
    Spread,
    Tolerance,
    Widened,
    Widening,
)

Cell = Callable[[Outcome, Trade], str]
Given = tuple[str, str, Acceptance]
"""A criterion, its limits and how often it holds."""
Wide = tuple[Widening, Widened]


def spread_table(study: Tolerance) -> Table:
    """The distribution of every metric: where the scenario stands, the mean, the uncertainty."""
    return _of_outcomes(
        "What the uncertain inputs make of the metrics",
        study.outcomes,
        ("as the scenario", "stands", _nominal),
        ("mean", "of samples", _mean),
        ("standard", "uncertainty", lambda one, unit: _uncertainty(unit, one.spread)),
        ("discretisation", "error", lambda one, unit: _span(unit, one.spread.numerical_error)),
        ("samples", "", lambda one, unit: str(one.spread.samples)),
    )


def intervals_table(study: Tolerance) -> Table:
    """The two 95 % coverage intervals of every metric."""

    def end(name: str, side: str) -> tuple[str, str, Cell]:
        def text(one: Outcome, unit: Trade) -> str:
            value = getattr(getattr(one.spread, name), side)
            return _pm(unit, value, getattr(getattr(one.spread, f"{name}_error"), side))

        return name, "from" if side == "low" else "to", text

    ends = [end(name, side) for name in ("symmetric", "shortest") for side in ("low", "high")]
    return _of_outcomes("Intervals that hold 95 % of the distribution", study.outcomes, *ends)


def acceptance_table(study: Tolerance) -> Table | None:
    """How often every criterion is satisfied, and with what confidence; None without criteria."""
    rows: list[Given] = [
        (one.name, sentences.limits(one), one.acceptance)
        for one in study.outcomes
        if one.acceptance is not None
    ]
    if len(rows) > 1 and study.acceptance is not None:
        rows.append(("all together", "", study.acceptance))
    if not rows:
        return None
    columns = (
        words("criterion", lambda row: row[0]),
        words("limit", lambda row: row[1]),
        words("of samples", lambda row: percent(row[2].probability), "%"),
        words("interval", lambda row: _range(row[2]), "%"),
        words("satisfied by", lambda row: percent(row[2].lower_bound), "at least, %"),
        words("required, %", lambda row: _required(row[2]), "/ confidence"),
        words("undecided", lambda row: str(row[2].undecided), "samples"),
        words("", lambda row: row[2].state, "answer"),
    )
    return tabulated("How often the criteria are satisfied", columns, rows)


def _range(one: Acceptance) -> str:
    return f"{percent(one.interval.low)} to {percent(one.interval.high)}"


def _required(one: Acceptance) -> str:
    return f"{percent(one.required)} / {percent(one.confidence)}"


def discrepancy_table(study: Tolerance) -> Table | None:
    """The answer where the model lies off by so much; None without criteria."""
    if not study.discrepancies:
        return None
    columns = (
        words("plates of the model", lambda one: f"{100 * one.size:g}", "uncertain by, %"),
        words("of samples", lambda one: percent(one.acceptance.probability), "%"),
        words("interval", lambda one: _range(one.acceptance), "%"),
        words("satisfied by", lambda one: percent(one.acceptance.lower_bound), "at least, %"),
        words("", lambda one: "stated" if one.size == study.discrepancy else ""),
    )
    return tabulated("If the model lies off: all criteria", columns, study.discrepancies)


def tolerance_limits_table(study: Tolerance) -> Table | None:
    """Distribution-free tolerance limits; None where there are none (Wilks asks for independent
    samples)."""
    there = [one for one in study.outcomes if not one.limits.refused]
    if not there:
        return None
    first = there[-1].limits
    head = f"{percent(first.content)} % of the distribution, {percent(first.confidence)} %"
    return _of_outcomes(
        f"Tolerance limits: {head} confidence",
        there,
        ("at", "least", lambda one, unit: _of(unit, one.limits.at_least, 5)),
        ("at", "most", lambda one, unit: _of(unit, one.limits.at_most, 5)),
        ("between", "", lambda one, unit: _of(unit, one.limits.between.low, 5)),
        ("and", "", lambda one, unit: _of(unit, one.limits.between.high, 5)),
    )


def kinds_table(study: Tolerance) -> Table | None:
    """Standard uncertainty with the inputs of one kind only; None where all are of one kind."""
    kinds = list(dict.fromkeys(kind for one in study.outcomes for kind in one.by_kind))
    if not kinds:
        return None

    def only(kind: str) -> tuple[str, str, Cell]:
        return "only", kind, lambda one, unit: _uncertainty(unit, one.by_kind.get(kind))

    return _of_outcomes(
        "Standard uncertainty by kind of input",
        study.outcomes,
        ("all", "inputs", lambda one, unit: _uncertainty(unit, one.spread)),
        *map(only, kinds),
    )


def first_order_table(study: Tolerance) -> Table:
    """First-order propagation of the closed forms and of the simulation, beside the samples."""
    return _of_outcomes(
        "To first order: the sum of variances, and the simulation itself",
        study.outcomes,
        ("sum of", "variances", lambda one, unit: _of(unit, one.first_order.value)),
        ("uncertainty", "", lambda one, unit: _span(unit, one.first_order.standard_uncertainty)),
        ("simulation", "linear", lambda one, unit: _of(unit, one.linearised.value)),
        ("uncertainty", "", lambda one, unit: _span(unit, one.linearised.standard_uncertainty)),
        ("samples:", "mean", _mean),
        ("uncertainty", "", lambda one, unit: _uncertainty(unit, one.spread)),
    )


def indices_tables(study: Tolerance) -> list[Table]:
    """Sobol' indices, a table for each metric; none where they were not asked for."""
    found = study.indices
    if found is None:
        return []
    head = (
        ("input", ""),
        ("alone", "(first order)"),
        ("from", ""),
        ("to", ""),
        ("with all it", "acts with (total)"),
        ("from", ""),
        ("to", ""),
    )
    shares = ("first", "first_low", "first_high", "total", "total_low", "total_high")
    return [
        Table(
            f"Share of the variance: {name}",
            head,
            tuple(
                (
                    in_words(given),
                    *(_share(float(getattr(found, share)[row, column])) for share in shares),
                )
                for column, given in enumerate(found.inputs)
            ),
        )
        for row, name in enumerate(found.outcomes)
    ]


def widening_table(study: Tolerance) -> Table | None:
    """The widest tolerances at which all criteria hold; None where they were not asked for."""
    rows: list[Wide] = [(one, given) for one in study.widenings for given in one.inputs]
    if not rows:
        return None
    columns = (
        words("input", _widened_name),
        words("times as", lambda row: significant(row[1].scale), "wide"),
        words(
            "refused",
            lambda row: significant(row[0].scale_refused) if row[0].rule == "alone" else "",
            "at",
        ),
        words("from", lambda row: _end(row[1], row[1].limits.low)),
        words("to", lambda row: _end(row[1], row[1].limits.high)),
        words("fresh samples", lambda row: _fresh(row[0], "probability"), "satisfy, %"),
        words("at least,", lambda row: _fresh(row[0], "lower_bound"), "%"),
    )
    return tabulated("The widest tolerances found", columns, rows)


def _widened_name(row: Wide) -> str:
    return in_words(row[1].name) + ("" if row[0].rule == "alone" else f" ({row[0].rule})")


def _end(one: Widened, value: float) -> str:
    unit = trade(one.kind, one.unit)
    return f"{_of(unit, value)} {unit.unit}".rstrip()


def _fresh(one: Widening, name: str) -> str:
    return ABSENT if one.fresh is None else percent(getattr(one.fresh, name))


def numerical_table(study: Tolerance) -> Table:
    """How well the metrics were computed, beside how far they spread."""

    def largest(one: Outcome, unit: Trade) -> str:
        errors = one.errors[np.isfinite(one.errors)]
        return _span(unit, float(errors.max()) if errors.size else math.nan)

    def ratio(one: Outcome, unit: Trade) -> str:
        wide = one.spread.standard_uncertainty
        return percent(one.spread.numerical_error / wide) if wide > 0 else ABSENT

    return _of_outcomes(
        "Discretisation error of the samples",
        study.outcomes,
        (
            "discretisation error",
            "median",
            lambda one, unit: _span(unit, one.spread.numerical_error),
        ),
        ("discretisation error", "largest", largest),
        ("standard", "uncertainty", lambda one, unit: _span(unit, one.spread.standard_uncertainty)),
        ("median over", "uncertainty, %", ratio),
    )


def inputs_table(study: Tolerance) -> Table:
    """Every uncertain input: its distribution, what kind of uncertainty it is, and why."""
    told = [(one.name, sentences.distribution(one), one.kind, one.because) for one in study.inputs]
    told += [(one.name, readings.varied(one), "injection", one.because) for one in study.varied]
    rows = [(in_words(name), *more) for name, *more in told]
    heads = ("input", "distribution", "kind", "because")
    return Table("Uncertain inputs", tuple((head, "") for head in heads), tuple(rows))


def qualification_table(study: Tolerance) -> Table | None:
    """What to measure on the instrument, how often, and how to decide; None without rows."""

    def limit(one: Check) -> str:
        unit = trade(one.kind, one.unit)
        expected = f"{_of(unit, one.expected)} {unit.unit}".rstrip()
        return f"{sentences.limits(one) or 'none found'}; {expected} is expected"

    if not study.checks:
        return None
    columns = (
        words("what", checking.measurement),
        words(
            "how, how often", lambda one: f"{checking.HOW[one.how]}; {checking.often(one, study)}"
        ),
        words("limit", limit),
        words("guard band", checking.guard_band),
        words("decision", lambda one: checking.decision(one, study)),
        words("risks", checking.risks),
        words("because", lambda one: checking.basis(one, study)),
    )
    return tabulated("Qualification: what to measure", columns, study.checks)


def _of_outcomes(title: str, outcomes: Iterable[Outcome], *columns: tuple[str, str, Cell]) -> Table:
    """A row for each outcome, in the unit of the trade."""

    def column(name: str, under: str, text: Cell) -> Column:
        return words(name, lambda one: text(one, trade(one.kind, one.unit)), under)

    first = column("metric", "", lambda one, unit: unit.named(one.name))
    return tabulated(title, (first, *(column(*one) for one in columns)), outcomes)


MOST_DIGITS = 6
"""Of a metric: more tell nothing beside how far it spreads."""


def _nominal(one: Outcome, unit: Trade) -> str:
    return _pm(unit, one.nominal, one.nominal_error)


def _mean(one: Outcome, unit: Trade) -> str:
    return _pm(unit, one.spread.mean, one.spread.mean_error)


def _of(unit: Trade, value: float, digits: int = 4) -> str:
    return significant(float(unit.of(value)), digits)


def _span(unit: Trade, value: float) -> str:
    return significant(float(unit.span(value)), 2)


def _pm(unit: Trade, value: float, error: float) -> str:
    return with_error(float(unit.of(value)), float(unit.span(error)), digits=MOST_DIGITS)


def _uncertainty(unit: Trade, spread: Spread | None) -> str:
    if spread is None:
        return ABSENT
    wide, error = spread.standard_uncertainty, spread.uncertainty_error
    return with_error(float(unit.span(wide)), float(unit.span(error)))


def _share(value: float) -> str:
    return f"{round(value, 3) + 0.0:.3f}" if math.isfinite(value) else ABSENT
