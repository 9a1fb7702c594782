"""A result turned into text: plain, or for a terminal that shows bold type."""

import textwrap

from tailrace.report.findings import conclusion, pressure_line
from tailrace.report.signals import critical_line, signal_tables
from tailrace.report.tables import parts_table, recorded_table

WIDTH = 110
"""Columns of plain text, at most."""

GAP = "  "


def as_text(result, title):
    """Everything that ``run`` says, as plain text of at most 110 columns.

    Parameters
    ----------
    result : Result
    title : str

    Returns
    -------
    str
        Without a line end.
    """
    blocks = [_wrapped(title)]
    blocks += [plain_table(table) for table in _tables(result)]
    blocks.append("\n".join(_wrapped(line) for line in _remarks(result)))
    blocks.append(_wrapped(conclusion(result)))
    return "\n\n".join(blocks)


def for_terminal(result, title):
    """The same as renderables of rich; the parameters are those of ``as_text``.

    Returns
    -------
    list of rich renderables
    """
    from rich.padding import Padding
    from rich.text import Text

    remarks = [
        Text(line, style="yellow" if line.startswith(("Caution:", "Warning:")) else "")
        for line in _remarks(result)
    ]
    tables = [rich_table(table) for table in _tables(result)]
    end = Padding(Text(conclusion(result), style="bold"), (1, 0, 0, 0))
    return [Text(title, style="bold"), *tables, *remarks, end]


def plain_table(table):
    """One table as text: names to the left, numbers to the right, a rule under the head.

    Parameters
    ----------
    table : Table
        Names too long for 110 columns are cut and end in an ellipsis.

    Returns
    -------
    str
    """
    head = list(zip(*table.head, strict=True))
    lines = [*head, *table.rows]
    widths = [max(len(line[k]) for line in lines) for k in range(len(table.head))]
    rest = sum(widths[1:]) + len(GAP) * (len(widths) - 1)
    widths[0] = max(8, min(widths[0], WIDTH - rest))
    text = [_line(line, widths) for line in lines]
    rule = "-" * max(len(line) for line in text)
    text.insert(len(head), rule)
    if table.last_is_sum:
        text.insert(-1, rule)
    return "\n".join([table.title, *text])


def rich_table(table):
    """One table (Table) for a terminal; returns rich.table.Table."""
    from rich import box
    from rich.table import Table as Drawn
    from rich.text import Text

    drawn = Drawn(title=Text(table.title, style="bold"), title_justify="left", box=box.SIMPLE_HEAD)
    for index, (name, unit) in enumerate(table.head):
        drawn.add_column(Text(f"{name}\n{unit}"), justify="right" if index else "left")
    for row in table.rows:
        drawn.add_row(*(Text(cell) for cell in row))
    if table.last_is_sum and len(drawn.rows) > 1:
        drawn.rows[-2].end_section = True
    return drawn


def _tables(result):
    parts = [parts_table(result, k) for k in range(len(result.lanes))]
    return [*parts, recorded_table(result), *signal_tables(result)]


def _remarks(result):
    warnings = [f"Warning: {text}" for text in result.warnings]
    return [
        *filter(None, [critical_line(result)]),
        pressure_line(result.pressure),
        *warnings,
    ]


def _wrapped(text):
    return textwrap.fill(text, WIDTH)


def _line(cells, widths):
    first = cells[0] if len(cells[0]) <= widths[0] else cells[0][: widths[0] - 1] + "…"
    rest = [cell.rjust(width) for cell, width in zip(cells[1:], widths[1:], strict=True)]
    return GAP.join([first.ljust(widths[0]), *rest]).rstrip()
