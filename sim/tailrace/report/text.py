"""What a run says, as text."""

from tailrace.journey.result import Result
from tailrace.journey.verification import CrossCheck
from tailrace.report.sentences import conclusion, critical_line, pressure_line, verdict
from tailrace.report.table import Headline, Table, shown
from tailrace.report.tables import (
    amounts_table,
    check_tables,
    parts_table,
    recorded_table,
    regained_table,
    signal_tables,
)


def check_text(check: CrossCheck, title: str) -> str:
    """Tables that set two solvers side by side, and a sentence on whether they agree."""
    return shown([title, *check_tables(check), verdict(check)])


def as_text(result: Result, title: str) -> str:
    """Everything that ``run`` says, as plain text of at most 110 columns, without a line end."""
    return shown(blocks(result, title))


def blocks(result: Result, title: str) -> list[str | Table]:
    """The same, to be shown at any width."""
    remarks = "\n".join(_remarks(result))
    return [Headline(title), *_tables(result), remarks, Headline(conclusion(result))]


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
