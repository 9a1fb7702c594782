"""The tables of ``tolerance``, as text in cells. ``±`` is a standard error from the samples."""

import math

import numpy as np

from tailrace.records.trade import trade
from tailrace.report.numbers import ABSENT, percent, significant, with_error
from tailrace.report.table import Table

ALL = "all together"
"""The row in which one sample must keep every criterion."""
MOST_WRITTEN = 10
"""Digits of a limit that somebody wrote down."""


def spread_table(study) -> Table:
    """The distribution of every figure: where the scenario stands, the mean, the uncertainty."""
    rows = []
    for one in study.outcomes:
        unit, spread = trade(one.kind, one.unit), one.spread
        rows.append(
            (
                unit.named(one.name),
                _pm(unit, one.nominal, one.nominal_error),
                _pm(unit, spread.mean, spread.mean_error),
                with_error(unit.span(spread.standard_uncertainty), spread_error(one)),
                significant(unit.span(spread.numerical_error), 2),
                str(spread.samples),
            )
        )
    head = (
        ("figure", ""),
        ("as the scenario", "stands"),
        ("mean", "of samples"),
        ("standard", "uncertainty"),
        ("discretisation", "error"),
        ("samples", ""),
    )
    return Table("What the uncertain inputs make of the figures", head, tuple(rows))


def spread_error(outcome) -> float:
    """Standard error of an outcome's standard uncertainty, in the trade's unit."""
    return trade(outcome.kind, outcome.unit).span(outcome.spread.uncertainty_error)


def intervals_table(study) -> Table:
    """The two 95 % coverage intervals of every figure."""
    rows = []
    for one in study.outcomes:
        unit, spread = trade(one.kind, one.unit), one.spread
        cells = [
            _pm(unit, getattr(interval, end), getattr(error, end))
            for interval, error in (
                (spread.symmetric, spread.symmetric_error),
                (spread.shortest, spread.shortest_error),
            )
            for end in ("low", "high")
        ]
        rows.append((unit.named(one.name), *cells))
    head = (
        ("figure", ""),
        ("symmetric", "from"),
        ("symmetric", "to"),
        ("shortest", "from"),
        ("shortest", "to"),
    )
    return Table("Intervals that hold 95 % of the distribution", head, tuple(rows))


def acceptance_table(study) -> Table:
    """How often every criterion is kept, and with what confidence."""
    rows = [
        _judged(one.name, limits(one), one.acceptance)
        for one in study.outcomes
        if one.acceptance is not None
    ]
    if len(rows) > 1 and study.acceptance is not None:
        rows.append(_judged(ALL, "", study.acceptance))
    head = (
        ("criterion", ""),
        ("limit", ""),
        ("samples kept", "%"),
        ("interval", "%"),
        ("kept by", "at least, %"),
        ("required, %", "/ confidence"),
        ("undecided", "samples"),
        ("", "answer"),
    )
    return Table("How often the criteria are kept", head, tuple(rows))


def limits(outcome) -> str:
    """Limits in words: ``at least 11000``, ``0.9 to 1.2 s``; empty without any."""
    unit = trade(outcome.kind, outcome.unit)
    low, high = (_as_written(unit.of(end)) for end in (outcome.at_least, outcome.at_most))
    behind = f" {unit.unit}" if unit.unit else ""
    if math.isnan(outcome.at_least) and math.isnan(outcome.at_most):
        return ""
    if math.isnan(outcome.at_least):
        return f"at most {high}{behind}"
    if math.isnan(outcome.at_most):
        return f"at least {low}{behind}"
    return f"{low} to {high}{behind}"


def _as_written(value):
    """A limit with all the digits that it was given; one that was computed with four."""
    for digits in range(4, MOST_WRITTEN + 1):
        if math.isclose(float(f"{value:.{digits - 1}e}"), value, rel_tol=1e-12):
            return significant(value, digits)
    return significant(value, 4)


def _judged(name, limit, one):
    return (
        name,
        limit,
        percent(one.probability),
        f"{percent(one.interval.low)} to {percent(one.interval.high)}",
        percent(one.lower_bound),
        f"{percent(one.required)} / {percent(one.confidence)}",
        str(one.undecided),
        "kept" if one.met else "not shown",
    )


def tolerance_limits_table(study) -> Table | None:
    """Distribution-free tolerance limits; None where there are none (Wilks asks for independent
    samples)."""
    rows, head = [], None
    for one in study.outcomes:
        unit, found = trade(one.kind, one.unit), one.limits
        if found.refused:
            continue
        head = f"{percent(found.content)} % of the distribution, {percent(found.confidence)} %"
        ends = (found.at_least, found.at_most, found.between.low, found.between.high)
        rows.append((unit.named(one.name), *(significant(unit.of(end), 5) for end in ends)))
    if not rows:
        return None
    columns = (("figure", ""), ("at", "least"), ("at", "most"), ("between", ""), ("and", ""))
    return Table(f"Tolerance limits: {head} confidence", columns, tuple(rows))


def kinds_table(study) -> Table | None:
    """Standard uncertainty with the inputs of one kind only; None where all are of one kind."""
    kinds = list(dict.fromkeys(kind for one in study.outcomes for kind in one.by_kind))
    if not kinds:
        return None
    rows = []
    for one in study.outcomes:
        unit = trade(one.kind, one.unit)
        spreads = [one.spread, *(one.by_kind.get(kind) for kind in kinds)]
        rows.append((unit.named(one.name), *(_uncertainty(unit, spread) for spread in spreads)))
    head = (("figure", ""), ("all", "inputs"), *(("only", kind) for kind in kinds))
    return Table("Standard uncertainty by kind of input", head, tuple(rows))


def first_order_table(study) -> Table:
    """First-order propagation of the closed forms beside the simulation."""
    rows = []
    for one in study.outcomes:
        unit, closed = trade(one.kind, one.unit), one.first_order
        rows.append(
            (
                unit.named(one.name),
                significant(unit.of(closed.value), 4),
                significant(unit.span(closed.standard_uncertainty), 2),
                significant(unit.of(closed.interval.low), 4),
                significant(unit.of(closed.interval.high), 4),
                _pm(unit, one.spread.mean, one.spread.mean_error),
                _uncertainty(unit, one.spread),
            )
        )
    head = (
        ("figure", ""),
        ("closed form", "value"),
        ("closed form", "uncertainty"),
        ("95 %", "from"),
        ("95 %", "to"),
        ("simulated", "mean"),
        ("simulated", "uncertainty"),
    )
    return Table("First order and closed form, beside the simulation", head, tuple(rows))


def indices_tables(study) -> list[Table]:
    """Sobol' indices, a table for each figure; none where they were not asked for."""
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
                (given, *(_share(getattr(found, share)[row, column]) for share in shares))
                for column, given in enumerate(found.inputs)
            ),
        )
        for row, name in enumerate(found.outcomes)
    ]


def widening_table(study) -> Table | None:
    """The widest tolerances that keep all criteria; None where they were not asked for."""
    if not study.widenings:
        return None
    rows = []
    for widening in study.widenings:
        fresh = widening.fresh
        several = len(widening.inputs) > 1
        shared = f" ({widening.title.removeprefix('all together, ')})" if several else ""
        rows.extend(
            (
                one.name + shared,
                significant(one.scale),
                "" if several else significant(widening.scale_refused),
                _ends(one, "low"),
                _ends(one, "high"),
                ABSENT if fresh is None else percent(fresh.probability),
                ABSENT if fresh is None else percent(fresh.lower_bound),
            )
            for one in widening.inputs
        )
    head = (
        ("input", ""),
        ("times as", "wide"),
        ("refused", "at"),
        ("from", ""),
        ("to", ""),
        ("fresh samples", "keep, %"),
        ("at least,", "%"),
    )
    return Table("The widest tolerances found", head, tuple(rows))


def numerical_table(study) -> Table:
    """How well the figures were computed, beside how far they spread."""
    rows = []
    for one in study.outcomes:
        unit, spread = trade(one.kind, one.unit), one.spread
        errors = one.errors[np.isfinite(one.errors)]
        largest = float(errors.max()) if errors.size else math.nan
        rows.append(
            (
                unit.named(one.name),
                significant(unit.span(spread.numerical_error), 2),
                significant(unit.span(largest), 2),
                significant(unit.span(spread.standard_uncertainty), 2),
                percent(spread.numerical_error / spread.standard_uncertainty)
                if spread.standard_uncertainty > 0
                else ABSENT,
            )
        )
    head = (
        ("figure", ""),
        ("discretisation error", "median"),
        ("discretisation error", "largest"),
        ("standard", "uncertainty"),
        ("median over", "uncertainty, %"),
    )
    return Table("Discretisation error of the samples", head, tuple(rows))


def _ends(one, end):
    unit = trade(one.kind, one.unit)
    value = significant(unit.of(getattr(one.limits, end)), 4)
    return f"{value} {unit.unit}".rstrip()


def _pm(unit, value, error):
    return with_error(unit.of(value), unit.span(error))


def _uncertainty(unit, spread):
    if spread is None:
        return ABSENT
    return with_error(unit.span(spread.standard_uncertainty), unit.span(spread.uncertainty_error))


def _share(value):
    return f"{value:.3f}" if math.isfinite(value) else ABSENT
