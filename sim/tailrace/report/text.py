"""A result turned into text: plain, or for a terminal that shows bold type."""

import textwrap
from typing import TYPE_CHECKING

from tailrace.journey.result import Result
from tailrace.journey.verification import CrossCheck
from tailrace.report.sentences import conclusion, critical_line, pressure_line, verdict
from tailrace.report.table import WIDTH, Table
from tailrace.report.tables import (
    amounts_table,
    check_tables,
    parts_table,
    recorded_table,
    regained_table,
    signal_tables,
)

if TYPE_CHECKING:
    from rich.console import RenderableType


def check_text(check: CrossCheck, title: str) -> str:
    """Tables that set two solvers side by side, and a sentence on whether they agree."""
    return "\n\n".join([title, *(table.text() for table in check_tables(check)), verdict(check)])


def as_text(result: Result, title: str) -> str:
    """Everything that ``run`` says, as plain text of at most 110 columns, without a line end."""
    blocks = [_wrapped(title)]
    blocks += [table.text() for table in _tables(result)]
    blocks.append("\n".join(_wrapped(line) for line in _remarks(result)))
    blocks.append(_wrapped(conclusion(result)))
    return "\n\n".join(blocks)


def for_terminal(result: Result, title: str) -> "list[RenderableType]":
    """The same as renderables of rich."""
    from rich.padding import Padding
    from rich.text import Text

    remarks = [
        Text(line, style="yellow" if line.startswith(("Caution:", "Warning:")) else "")
        for line in _remarks(result)
    ]
    tables = [table.rich() for table in _tables(result)]
    end = Padding(Text(conclusion(result), style="bold"), (1, 0, 0, 0))
    return [Text(title, style="bold"), *tables, *remarks, end]


def _tables(result: Result) -> list[Table]:
    parts = [parts_table(result, k) for k in range(len(result.lanes))]
    back = filter(None, [regained_table(result)])
    recorded = [recorded_table(result), amounts_table(result), *signal_tables(result)]
    return [*parts, *back, *recorded]


def _remarks(result: Result) -> list[str]:
    warnings = [f"Warning: {text}" for text in result.warnings]
    return [
        *filter(None, [critical_line(result)]),
        pressure_line(result.pressure, result.parts),
        *warnings,
    ]


def _wrapped(text: str) -> str:
    return textwrap.fill(text, WIDTH)
