"""What changes bring, as plain text, or for a terminal that shows bold type."""

import textwrap

from tailrace.report.improvement.expected import basis_line, expected_table
from tailrace.report.improvement.findings import about, findings
from tailrace.report.improvement.tables import (
    DEMANDS,
    changes_table,
    frontier_table,
    steps_table,
)
from tailrace.report.table import WIDTH


def as_text(improvement, title, expect=False):
    """Everything that ``improve`` says, as plain text of at most 110 columns.

    Parameters
    ----------
    improvement : Improvement
    title : str
    expect : bool
        Whether to say what measurements should show after each step.

    Returns
    -------
    str
        Without a line end.
    """
    blocks = [_wrapped(title), "\n".join(map(_wrapped, about(improvement)))]
    blocks += [table.text() for table in _tables(improvement, expect)]
    blocks.append("\n".join(map(_wrapped, _sentences(improvement, expect))))
    return "\n\n".join([*blocks, _wrapped(improvement.verdict)])


def for_terminal(improvement, title, expect=False):
    """The same as renderables of rich; the parameters are those of ``as_text``.

    Returns
    -------
    list of rich renderables
    """
    from rich.padding import Padding
    from rich.text import Text

    return [
        Text(title, style="bold"),
        *map(Text, about(improvement)),
        *(table.rich() for table in _tables(improvement, expect)),
        *map(Text, _sentences(improvement, expect)),
        Padding(Text(improvement.verdict, style="bold"), (1, 0, 0, 0)),
    ]


def _tables(improvement, expect):
    frontiers = [
        frontier_table(improvement, demand)
        for demand in DEMANDS
        if len(improvement.frontiers[demand]) > 1
    ]
    expected = [expected_table(improvement)] if expect else []
    return [steps_table(improvement), changes_table(improvement), *frontiers, *expected]


def _sentences(improvement, expect):
    said = findings(improvement)
    return [basis_line(improvement), *said] if expect else said


def _wrapped(text):
    return textwrap.fill(text, WIDTH)
