"""What a tolerance study says in words: the sentences, and the tables whose cells are sentences."""

import math
import textwrap
from dataclasses import replace

import numpy as np

from tailrace.records.trade import trade
from tailrace.report.numbers import percent, significant
from tailrace.report.table import Table
from tailrace.report.text import WIDTH
from tailrace.report.tolerance.tables import limits

ENOUGH = 0.8
"""Share of the variance that the named inputs explain, if three of them can."""


def conclusion(study) -> str:
    """One sentence: whether the criteria are kept as required."""
    judged = [one for one in study.outcomes if one.acceptance is not None]
    if not judged:
        return "No criteria are stated: see [[accept]]. The table says how far each figure spreads."
    missed = [
        f"{one.name}, {limits(one)} ({_found(one.acceptance)})"
        for one in judged
        if not one.acceptance.met
    ]
    whole = study.acceptance
    if not missed and whole is not None and not whole.met:
        missed = [f"all criteria together ({_found(whole)})"]
    if missed:
        return f"Not shown: {'; '.join(missed)}."
    kept = whole if whole is not None else judged[0].acceptance
    what = f"{judged[0].name}, {limits(judged[0])}, is" if len(judged) == 1 else "All criteria are"
    return (
        f"{what} kept by {percent(kept.probability)} % of the samples: by at least "
        f"{percent(kept.lower_bound)} % of instruments with {percent(kept.confidence)} % "
        f"confidence, where {percent(kept.required)} % are required."
    )


def _found(one):
    return (
        f"kept by at least {percent(one.lower_bound)} % with {percent(one.confidence)} % "
        f"confidence, {percent(one.required)} % required"
    )


def drawing(study) -> str:
    """One sentence on how many samples were made, and how."""
    asked = study.question
    failed = int(np.count_nonzero(~study.computed))
    said = f"{failed} could not be computed" if failed else "all could be computed"
    return (
        f"{study.samples} samples, each a simulated journey of every solute; generator "
        f"{asked.get('generator', 'random')}, seed {asked.get('seed')}; "
        f"{said}."
    )


def remarks(study) -> list[str]:
    """Sentences under the tables: samples, what matters, where closed form misleads, cautions."""
    lines = [drawing(study)]
    if study.stop is not None:
        lines.append(study.stop.sentence)
    lines += what_matters(study)
    lines += list(dict.fromkeys(one.first_order.remark for one in misled(study)))
    lines += wilks_remarks(study)
    lines += widening_words(study)
    lines += [f"Caution: {line}" for line in study.cautions]
    return [sentence(line) for line in lines if line]


def misled(study) -> list:
    """Outcomes of which first-order propagation says something else than the simulation."""
    return [one for one in study.outcomes if one.first_order.misleads]


def wilks_remarks(study) -> list[str]:
    """Why there are no tolerance limits, where there are none."""
    reasons = dict.fromkeys(one.limits.refused for one in study.outcomes if one.limits.refused)
    return [f"No tolerance limits: {one}." for one in reasons]


def what_matters(study) -> list[str]:
    """For each figure, the inputs that make most of its variance."""
    found, lines = study.indices, []
    if found is None:
        return lines
    for row, name in enumerate(found.outcomes):
        order = np.argsort(-np.nan_to_num(found.total[row]))
        named, explained = [], 0.0
        for column in order[:3]:
            if not found.total[row, column] > 0:
                break
            named.append(f"{found.inputs[column]} ({percent(found.total[row, column])} %)")
            explained += found.total[row, column]
            if explained >= ENOUGH:
                break
        if named:
            lines.append(
                f"What makes {name} vary most: {', '.join(named)}, with all they act with."
            )
    return [*lines, *([found.remark] if found.remark else [])]


def widening_words(study) -> list[str]:
    """The answer to each question of `--widen`, and the rule by which several inputs share."""
    return [
        f"{one.sentence.rstrip('.')}{f'; {one.rule}' if one.rule else ''}."
        for one in study.widenings
    ]


def inputs_words(study) -> Table:
    """Every uncertain input: its distribution, what kind of uncertainty it is, and why."""
    rows = tuple((one.name, one.sentence, one.kind, one.because) for one in study.inputs)
    head = (("input", ""), ("distribution", ""), ("kind", ""), ("because", ""))
    return Table("Uncertain inputs", head, rows)


def qualification_words(study) -> Table | None:
    """What to measure on the instrument, how often, and how to decide; None without rows."""
    if not study.checks:
        return None
    rows = tuple(_check(one) for one in study.checks)
    head = (
        ("what", ""),
        ("how, how often", ""),
        ("limit", ""),
        ("guard band", ""),
        ("decision and risks", ""),
        ("because", ""),
    )
    return Table("Qualification: what to measure", head, rows)


def _check(one):
    unit = trade(one.kind, one.unit)
    behind = f" {unit.unit}" if unit.unit else ""
    risks = "; ".join(
        f"{word}: {_risk(value)} of all ({_risk(interval.low)} to {_risk(interval.high)})"
        for word, value, interval in (
            ("wrong but passed", one.consumer_risk, one.consumer_risk_interval),
            ("right but not passed at once", one.producer_risk, one.producer_risk_interval),
        )
        if math.isfinite(value)
    )
    expected = f"{significant(unit.of(one.expected), 4)}{behind} is expected"
    return (
        one.what,
        f"{one.how}; {one.often}",
        f"{limits(one) or 'none found'}; {expected}",
        _guard(one, unit, behind),
        f"{_capital(sentence(one.rule))} {_capital(sentence(risks))}".strip(),
        one.because,
    )


def _guard(one, unit, behind):
    """The guard band, what it is made of, and the acceptance limits inside it."""
    if not one.guard > 0:
        return "none"
    inside = replace(one, at_least=one.accept_at_least, at_most=one.accept_at_most)
    factor = significant(one.guard / one.measurement, 4)
    return (
        f"{significant(unit.span(one.guard), 3)}{behind}, {factor} times the standard uncertainty "
        f"of the measurement ({significant(unit.span(one.measurement), 2)}{behind}); acceptance "
        f"limit: {limits(inside)}"
    )


def sentence(text) -> str:
    """A text with a full stop behind it; nothing stays nothing."""
    return f"{text.rstrip('.')}." if text else ""


def _capital(text):
    return text[:1].upper() + text[1:]


def _risk(value):
    return f"{percent(value)} %"


def maps_words(study) -> list[str]:
    """One sentence for each map."""
    lines = []
    for one in study.maps:
        counts = [int(np.count_nonzero(one.allowed == word)) for word in (1, 0, -1)]
        lines.append(
            f"{one.names[0]} and {one.names[1]}: of {one.allowed.size} places, {counts[0]} keep "
            f"the criteria with {percent(one.required)} % probability at "
            f"{percent(one.confidence)} % confidence, {counts[1]} miss them, {counts[2]} are not "
            f"decided by {one.samples} samples each."
        )
    return lines


def listed(table) -> str:
    """A table of words as plain text: a paragraph for each row.

    Parameters
    ----------
    table : Table

    Returns
    -------
    str
    """
    lines = [table.title, "-" * len(table.title)]
    for row in table.rows:
        said = [row[0]]
        for (name, _), cell in zip(table.head[1:], row[1:], strict=True):
            if cell:
                said.append(cell if name in UNSAID else f"{name}: {cell}")
        text = "; ".join(one.removesuffix(".") for one in said) + "."
        lines.append(textwrap.fill(text, WIDTH, subsequent_indent="    ", break_on_hyphens=False))
    return "\n".join(lines)


UNSAID = ("distribution", "kind", "how, how often")
"""Heads that the cells make plain by themselves."""
