"""The tables of ``improve``, as text in cells."""

import numpy as np

from tailrace.report.improvement.figures import (
    bars,
    gained,
    letters,
    minutes,
    money,
    ratio,
    share,
)
from tailrace.report.numbers import ABSENT, with_error
from tailrace.report.table import Table

MOST_ROWS = 8
"""Of one frontier; of more, rows at even distances are shown, the last among them."""

DEMANDS = {
    "cost": ("cost", "", money),
    "effort": ("effort", "min", minutes),
    "pressure": ("pressure", "bar", bars),
    "signal_to_noise": ("signal to", "noise", ratio),
}
"""Frontiers: head of the column, and how its figures are written."""


def steps_table(improvement):
    """What each step of the best order brings and costs.

    Parameters
    ----------
    improvement : Improvement

    Returns
    -------
    Table
        The first row is the instrument as it is. ``brought back`` is the share of what was lost
        at the start that all steps so far have brought back; signal over noise is told over the
        start's.
    """
    cell = any(step.cell_pressure > 0 for step in improvement.steps)
    head = [
        ("step", ""),
        (_figure(improvement), "after it"),
        ("gain", ""),
        ("brought", "back, %"),
        ("cost", ""),
        ("effort", "min"),
        ("pressure", "bar"),
        *([("in cell", "bar")] if cell else []),
        ("signal", "/ noise"),
        ("gain by", "theory"),
    ]
    rows = [_step(improvement, step, cell) for step in improvement.steps]
    several = len(improvement.steps) > 1
    if several:
        rows.append(_all_steps(improvement, cell))
    title = (
        f"Steps in the best order ({improvement.aim.figure}; ± discretisation error; theory: the "
        "sum of textbook variances)"
    )
    return Table(title, tuple(head), tuple(rows), last_is_sum=several)


def _all_steps(improvement, cell):
    start, last = improvement.steps[0], improvement.steps[-1]
    error = float(np.hypot(last.error, start.error))
    return (
        "all of them",
        "",
        gained(improvement.aim.sign * (last.figure - start.figure), error),
        "",
        money(last.total_cost),
        minutes(last.total_effort),
        *[""] * (2 + cell),
        gained(improvement.aim.sign * (last.theory - start.theory), error),
    )


def _step(improvement, step, cell):
    name = f"{step.number} {step.change}" if step.number else "0 as it is"
    first = step.number == 0
    return (
        name,
        with_error(step.figure, step.error),
        "" if first else gained(step.gain, step.gain_error),
        share(step.recovered),
        "" if first else money(step.cost),
        "" if first else minutes(step.effort),
        bars(step.pressure),
        *([bars(step.cell_pressure)] if cell else []),
        ratio(step.signal_to_noise),
        "" if first else gained(step.theory_gain, step.gain_error),
    )


def changes_table(improvement):
    """What each change is worth: first, last, and its fair share of the whole gain.

    Parameters
    ----------
    improvement : Improvement

    Returns
    -------
    Table
        Every change has a letter, by which other tables name it.
    """
    head = (
        ("change", ""),
        ("alone", "simulated"),
        ("alone, by", "theory"),
        ("as the", "last"),
        ("fair", "share"),
        ("of the", "whole, %"),
        ("cost", ""),
        ("effort", "min"),
    )
    combinations, whole = improvement.combinations, improvement.whole_gain
    error = float(np.hypot(combinations.error[improvement.whole], combinations.error[0]))
    rows = []
    for index, change in enumerate(improvement.changes):
        close = float(np.hypot(error, change.share_error))
        worth = (
            gained(change.alone, change.alone_error),
            gained(change.theory_alone, change.alone_error),
            gained(change.last, change.last_error),
            gained(change.share, close),
            share(change.share / whole) if abs(whole) > error else ABSENT,
        )
        if change.forbidden:
            worth = ("not allowed", *[ABSENT] * 4)
        price = (money(change.cost), minutes(change.effort))
        rows.append((f"{letters(index)} {change.name}", *worth, *price))
    return Table(f"What each change brings ({improvement.aim.figure})", head, tuple(rows))


def frontier_table(improvement, demand):
    """What can be had for so much money, work or pressure, or for so little signal.

    Parameters
    ----------
    improvement : Improvement
    demand : str
        One of DEMANDS.

    Returns
    -------
    Table
        At most MOST_ROWS rows. Every combination in it meets the constraints, and none of those
        that do brings more for less.
    """
    name, unit, written = DEMANDS[demand]
    head = (
        ("changes", ""),
        (name, unit),
        (_figure(improvement), ""),
        ("gain", ""),
        ("brought", "back, %"),
    )
    combinations, frontier = improvement.combinations, improvement.frontiers[demand]
    shown = decimated(frontier)
    rows = []
    for row in shown:
        taken = np.flatnonzero(combinations.taken[row])
        error = combinations.error[row]
        rows.append(
            (
                " ".join(letters(index) for index in taken) or "none",
                written(getattr(combinations, demand)[row]),
                with_error(combinations.figure[row], error),
                gained(improvement.gain(row), float(np.hypot(error, combinations.error[0]))),
                share(improvement.recovered(row)),
            )
        )
    title = TITLES[demand]
    if len(shown) < len(frontier):
        title += f"; {len(shown)} of {len(frontier)} rows"
    return Table(title, head, tuple(rows))


def _figure(improvement):
    """The aim's figure as the head of a column, which leaves room for the names beside it."""
    return "signal / noise" if improvement.aim.key == "signal" else improvement.aim.figure


TITLES = {
    "cost": "The most that can be had for the money",
    "effort": "The most that can be had for the work",
    "pressure": "The most that can be had at a pressure",
    "signal_to_noise": "The most that can be had at a signal-to-noise ratio (over the start's)",
}


def decimated(rows):
    """At most MOST_ROWS of an array, at even distances, first and last among them."""
    if len(rows) <= MOST_ROWS:
        return rows
    return rows[np.unique(np.linspace(0, len(rows) - 1, MOST_ROWS).round().astype(int))]
