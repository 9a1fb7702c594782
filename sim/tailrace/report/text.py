"""A result turned into text: plain, or for a terminal that shows bold type."""

import textwrap

from tailrace.report.findings import conclusion, pressure_line
from tailrace.report.signals import critical_line, signal_tables
from tailrace.report.table import WIDTH
from tailrace.report.tables import amounts_table, parts_table, recorded_table


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
    blocks += [table.text() for table in _tables(result)]
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
    tables = [table.rich() for table in _tables(result)]
    end = Padding(Text(conclusion(result), style="bold"), (1, 0, 0, 0))
    return [Text(title, style="bold"), *tables, *remarks, end]


def _tables(result):
    parts = [parts_table(result, k) for k in range(len(result.lanes))]
    return [*parts, recorded_table(result), amounts_table(result), *signal_tables(result)]


def _remarks(result):
    warnings = [f"Warning: {text}" for text in result.warnings]
    return [
        *filter(None, [critical_line(result)]),
        pressure_line(result.pressure, result.parts),
        *warnings,
    ]


def _wrapped(text):
    return textwrap.fill(text, WIDTH)
