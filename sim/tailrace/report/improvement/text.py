"""What changes bring, as plain text, or for a terminal that shows bold type."""

from __future__ import annotations

import textwrap
from typing import Any

from tailrace.report.improvement.sentences import about, basis_line, findings, verdict
from tailrace.report.improvement.tables import (
    changes_table,
    expected_table,
    frontier_tables,
    steps_table,
)
from tailrace.report.table import WIDTH, Table
from tailrace.studies.improving.result import Improvement


def as_text(improvement: Improvement, title: str, expect: bool = False) -> str:
    """Everything that ``improve`` prints, as plain text of at most 110 columns.

    With ``expect`` what measurements should show after each step, too. Without a line end.
    """
    blocks = [_wrapped(title), "\n".join(map(_wrapped, about(improvement)))]
    blocks += [table.text() for table in _tables(improvement, expect)]
    blocks.append("\n".join(map(_wrapped, _sentences(improvement, expect))))
    return "\n\n".join([*blocks, _wrapped(verdict(improvement))])


def for_terminal(improvement: Improvement, title: str, expect: bool = False) -> list[Any]:
    """The same as renderables of rich; the parameters are those of ``as_text``."""
    from rich.padding import Padding
    from rich.text import Text

    return [
        Text(title, style="bold"),
        *map(Text, about(improvement)),
        *(table.rich() for table in _tables(improvement, expect)),
        *map(Text, _sentences(improvement, expect)),
        Padding(Text(verdict(improvement), style="bold"), (1, 0, 0, 0)),
    ]


def _tables(improvement: Improvement, expect: bool) -> list[Table]:
    tables = [steps_table(improvement), changes_table(improvement), *frontier_tables(improvement)]
    return [*tables, expected_table(improvement)] if expect else tables


def _sentences(improvement: Improvement, expect: bool) -> list[str]:
    lines = findings(improvement)
    return [basis_line(improvement), *lines] if expect else lines


def _wrapped(text: str) -> str:
    return textwrap.fill(text, WIDTH)
