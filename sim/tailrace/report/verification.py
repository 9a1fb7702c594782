"""Two solvers side by side: the text of ``tailrace verify``, and the tables of a report."""

import numpy as np

from tailrace.report.numbers import ABSENT, significant
from tailrace.report.table import Table


def as_text(check, title):
    """Tables that set two solvers side by side, and a sentence on whether they agree.

    Parameters
    ----------
    check : CrossCheck
    title : str

    Returns
    -------
    str
    """
    return "\n\n".join([title, *(table.text() for table in check_tables(check)), verdict(check)])


def check_tables(check) -> list[Table]:
    """Two tables for each solute: the band behind each part, and what is recorded.

    Parameters
    ----------
    check : CrossCheck
    """
    return [
        table(check, lane, solute)
        for lane, solute in enumerate(check.lanes)
        for table in (_parts, _figures)
    ]


def verdict(check) -> str:
    """One sentence on a CrossCheck: whether the solvers agree, and if not, in what they differ."""
    if check.agree:
        return "The two solvers agree: no figure differs by more than the error estimates foresee."
    far = ", ".join(f"{name} ({solute})" for name, solute in check.far)
    return f"The two solvers differ by more than the error estimates foresee in: {far}."


def _parts(check, lane, solute):
    rows = tuple(
        (name, _small(apart[lane]), _small(check.variance[name][lane]))
        for name, apart in check.signal.items()
    )
    head = (("part", ""), ("band behind it", "apart, L2"), ("variance added", "relative"))
    return Table(f"Finite differences against spectral: {solute}", head, rows)


def _figures(check, lane, solute):
    rows = tuple(
        (
            name,
            significant(check.values[name][lane], 6),
            _small(difference[lane]),
            _small(check.foreseen[name][lane]),
        )
        for name, difference in check.differences.items()
    )
    head = (("recorded", ""), ("value", "SI"), ("difference", "SI"), ("foreseen", "SI"))
    return Table(f"Recorded figures: {solute}", head, rows)


def _small(value):
    return f"{value:.1e}" if np.isfinite(value) else ABSENT
