"""What a study of changes was asked and given, as a report tells it."""

import math
import tomllib

from tailrace.quantities.kinds import show
from tailrace.report.improvement.figures import letters, listed, money, ratio, spoken_time
from tailrace.report.improvement.findings import WORDS
from tailrace.report.improvement.words import settings, works
from tailrace.report.table import Table

LIMITS = {
    "pressure": ("pressure, whole path, at most", lambda value: show(value, "pressure")),
    "cell_pressure": ("pressure in the cell, at most", lambda value: show(value, "pressure")),
    "signal": ("signal over the start's, at least", ratio),
    "signal_to_noise": ("signal to noise over the start's, at least", ratio),
    "budget": ("cost, at most", money),
    "effort": ("work, at most", spoken_time),
}
"""Constraints: what they are called, and how their figure is written."""


def asked(improvement) -> list[tuple[str, str]]:
    """The question point by point: name and answer, the constraints of the scenario among them.

    Parameters
    ----------
    improvement : Improvement
    """
    aim = improvement.aim
    of = aim.of or ("the worst pair" if aim.key == "resolution" else "the worst solute")
    said = [
        ("aim", f"{aim.figure} of {of}, {'more' if aim.sign > 0 else 'less'} is better"),
        ("best order", f"the one that {WORDS[improvement.order]}"),
        ("a step is worth making from", f"{100 * improvement.stop:g} % of what there is before it"),
    ]
    for name, (called, text) in LIMITS.items():
        limit = getattr(improvement.constraints, name)
        if math.isfinite(limit):
            said.append((called, text(limit)))
    return said


def changes_words(improvement) -> Table:
    """Every change that could be made: its price, what it is tied to, and its cautions."""
    rows = tuple(
        (
            f"{letters(index)} {one.name}",
            money(one.cost),
            spoken_time(one.effort),
            "; ".join(_tied(one)),
            _cautions(one.caution, one.forbidden and f"Not allowed: {one.forbidden}"),
        )
        for index, one in enumerate(improvement.changes)
    )
    head = (
        ("change", ""),
        ("cost", ""),
        ("work", ""),
        ("tied to", ""),
        ("caution", ""),
    )
    return Table("Changes that could be made", head, rows)


def uncertain_words(improvement) -> Table | None:
    """Every input that the scenario calls uncertain, as it is written there; None without any."""
    given = tomllib.loads(improvement.scenario.text).get("uncertain", [])
    if not given:
        return None
    rows = tuple(
        (one["field"], settings(one, unsaid=("field", "because")), one.get("because", ""))
        for one in given
    )
    return Table("Uncertain inputs", (("input", ""), ("as stated", ""), ("because", "")), rows)


def steps_words(improvement) -> Table:
    """What is done in each step of the best order, with its cautions and broken constraints."""
    rows = tuple(
        (
            f"{step.number} {step.change}" if step.number else "0 as it is",
            "; ".join(done.doings),
            _cautions(step.caution, *step.broken),
        )
        for step, done in zip(improvement.steps, works(improvement), strict=True)
    )
    return Table("What is done in each step", (("step", ""), ("work", ""), ("caution", "")), rows)


def _tied(change):
    if change.needs:
        yield f"needs {listed(change.needs)}"
    if change.excludes:
        yield f"not beside {listed(change.excludes)}"


def _cautions(*texts):
    return " ".join(f"{one.rstrip('.')}." for one in texts if one)
