"""The text of ``tailrace verify``."""

import numpy as np

from tailrace.report.numbers import ABSENT, significant
from tailrace.report.tables import Table
from tailrace.report.text import plain_table as plain


def as_text(comparison, title):
    """Tables that set two solvers side by side, and a sentence on whether they agree.

    Parameters
    ----------
    comparison : Comparison
    title : str

    Returns
    -------
    str
    """
    blocks = [title]
    for lane, solute in enumerate(comparison.differences.lanes):
        blocks += [
            plain(_parts(comparison, lane, solute)),
            plain(_figures(comparison, lane, solute)),
        ]
    blocks.append(_verdict(comparison))
    return "\n\n".join(blocks)


def _parts(comparison, lane, solute):
    rows = tuple(
        (name, _small(apart[lane]), _small(comparison.variance[name][lane]))
        for name, apart in comparison.signal.items()
    )
    head = (("part", ""), ("band behind it", "apart, L2"), ("variance added", "relative"))
    return Table(f"Finite differences against spectral: {solute}", head, rows)


def _figures(comparison, lane, solute):
    rows = tuple(
        (
            name,
            significant(comparison.differences.recorded[name][lane], 6),
            _small(difference[lane]),
            _small(comparison.foreseen[name][lane]),
        )
        for name, difference in comparison.recorded.items()
    )
    head = (("recorded", ""), ("value", "SI"), ("difference", "SI"), ("foreseen", "SI"))
    return Table(f"Recorded figures: {solute}", head, rows)


def _small(value):
    return f"{value:.1e}" if np.isfinite(value) else ABSENT


def _verdict(comparison):
    if comparison.agree:
        return "The two solvers agree: no figure differs by more than the error estimates foresee."
    far = [
        f"{name} ({solute})"
        for name, difference in comparison.recorded.items()
        for lane, solute in enumerate(comparison.differences.lanes)
        if abs(difference[lane]) > comparison.foreseen[name][lane]
    ]
    return f"The two solvers differ by more than the error estimates foresee in: {', '.join(far)}."
