"""What changes bring, as text."""

from __future__ import annotations

from tailrace.records.trade import for_people
from tailrace.report.improvement.sentences import about, basis_line, findings, verdict
from tailrace.report.improvement.tables import (
    changes_table,
    expected_table,
    frontier_tables,
    steps_table,
)
from tailrace.report.table import Headline, Table, shown
from tailrace.studies.improving.result import Improvement


def as_text(improvement: Improvement, title: str, expect: bool = False) -> str:
    """Everything that ``improve`` prints, as plain text of at most 110 columns.

    With ``expect`` what measurements should show after each step, too. Without a line end.
    """
    return shown(blocks(improvement, title, expect))


def blocks(improvement: Improvement, title: str, expect: bool = False) -> list[str | Table]:
    """The same, to be shown at any width."""
    improvement = for_people(improvement)
    return [
        Headline(title),
        "\n".join(about(improvement)),
        *_tables(improvement, expect),
        "\n".join(_sentences(improvement, expect)),
        Headline(verdict(improvement)),
    ]


def _tables(improvement: Improvement, expect: bool) -> list[Table]:
    tables = [steps_table(improvement), changes_table(improvement), *frontier_tables(improvement)]
    return [*tables, expected_table(improvement)] if expect else tables


def _sentences(improvement: Improvement, expect: bool) -> list[str]:
    lines = findings(improvement)
    return [basis_line(improvement), *lines] if expect else lines
