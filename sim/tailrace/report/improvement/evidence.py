"""How well a study of changes was computed: tables and sentences of its report."""

import math
from dataclasses import replace

import numpy as np

from tailrace.records.losses import worst_first
from tailrace.report.numbers import ABSENT, percent, significant
from tailrace.report.table import Table
from tailrace.report.tables import parts_table, recorded_table


def numerical_table(improvement) -> Table:
    """Figure and gain of each step beside their discretisation errors."""
    rows = tuple(
        (
            f"{step.number} {step.change}" if step.number else "0 as it is",
            significant(step.figure, 6),
            significant(step.error, 2),
            percent(step.error / abs(step.figure)) if step.figure else ABSENT,
            significant(step.gain, 4) if step.number else "",
            significant(step.gain_error, 2) if step.number else "",
            _times(step.gain, step.gain_error) if step.number else "",
        )
        for step in improvement.steps
    )
    head = (
        ("step", ""),
        (improvement.aim.figure, ""),
        ("discretisation", "error"),
        ("error,", "%"),
        ("gain", ""),
        ("discretisation", "error"),
        ("gain", "over error"),
    )
    return Table("Discretisation error of the steps", head, rows)


def computed_line(improvement) -> str:
    """One sentence on the combinations: how many were computed, and how well the worst was."""
    combinations = improvement.combinations
    count, failed = len(combinations.figure), int(np.count_nonzero(~combinations.computed))
    said = f"{failed} could not be computed" if failed else "all could be computed"
    line = f"{count} combinations of changes were simulated, the start among them; {said}."
    good = np.isfinite(combinations.error) & (np.abs(combinations.figure) > 0)
    if good.any():
        worst = float(np.max(combinations.error[good] / np.abs(combinations.figure[good])))
        line += f" The largest discretisation error of the figure is {percent(worst)} % of it."
    return line


def warning_lines(states) -> list[str]:
    """Each warning of the runs that are shown in full, with the states that have it.

    Parameters
    ----------
    states : dict of str to Result
    """
    having = {}
    for name, result in states.items():
        for warning in result.warnings:
            having.setdefault(warning, []).append(name)
    return [f"{warning} ({'; '.join(names)})" for warning, names in having.items()]


def state_tables(states) -> list[Table]:
    """What is recorded in each state (dict of str to Result): every solute, with its error."""
    return [_of_state(recorded_table(result), name) for name, result in states.items()]


def part_tables(states) -> list[Table]:
    """What each part adds in each state, to the band of the solute that loses most at the start.

    Parameters
    ----------
    states : dict of str to Result
    """
    first = next(iter(states.values()))
    solute = first.lanes[worst_first(first)[0]]
    return [
        _of_state(parts_table(result, result.lanes.index(solute)), name)
        for name, result in states.items()
    ]


def _of_state(table, name):
    return replace(table, title=f"{name[:1].upper()}{name[1:]}: {table.title}")


def _times(gain, error):
    return significant(gain / error, 2) if math.isfinite(error) and error > 0 else ABSENT
