"""Tables: declared column by column, rendered as plain text, for a terminal, as HTML."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from markupsafe import Markup, escape

from tailrace.quantities.described import Description, descriptions
from tailrace.records.trade import in_unit
from tailrace.report.numbers import percent, significant, with_error

if TYPE_CHECKING:
    from rich.table import Table as Drawn

WIDTH = 110
"""Columns of plain text, at most."""
GAP = "  "


@dataclass(frozen=True)
class Table:
    """Cells of text, ready to be rendered.

    ``head``: for each column its name and its unit. The first column is a name, the rest are
    numbers. ``last_is_sum``: the last row is the sum of those above.
    """

    title: str
    head: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, ...], ...]
    last_is_sum: bool = False

    def text(self) -> str:
        """Plain text of at most WIDTH columns: names to the left, numbers to the right.

        Names that are too long are cut and end in an ellipsis.
        """
        head = list(zip(*self.head, strict=True))
        lines = [*head, *self.rows]
        widths = [max(len(line[k]) for line in lines) for k in range(len(self.head))]
        rest = sum(widths[1:]) + len(GAP) * (len(widths) - 1)
        widths[0] = max(8, min(widths[0], WIDTH - rest))
        text = [_line(line, widths) for line in lines]
        rule = "-" * max(len(line) for line in text)
        text.insert(len(head), rule)
        if self.last_is_sum:
            text.insert(-1, rule)
        return "\n".join([self.title, *text])

    def rich(self) -> "Drawn":
        """For a terminal that shows bold type; a table of rich."""
        from rich import box
        from rich.table import Table as Drawn
        from rich.text import Text

        title = Text(self.title, style="bold")
        drawn = Drawn(title=title, title_justify="left", box=box.SIMPLE_HEAD)
        for index, (name, unit) in enumerate(self.head):
            drawn.add_column(Text(f"{name}\n{unit}"), justify="right" if index else "left")
        for row in self.rows:
            drawn.add_row(*(Text(cell) for cell in row))
        if self.last_is_sum and len(drawn.rows) > 1:
            drawn.rows[-2].end_section = True
        return drawn

    def html(self, words: bool = False) -> Markup:
        """An HTML element; every text is escaped.

        ``words``: whether cells hold sentences, which wrap, and not numbers.
        """
        head = Markup("\n").join(
            Markup('<th scope="col">{}</th>').format(
                Markup("<br>").join(escape(one) for one in pair if one)
            )
            for pair in self.head
        )
        body = Markup("\n").join(
            Markup('<tr{}><th scope="row">{}</th>\n{}</tr>').format(
                Markup(' class="sum"') if self.last_is_sum and last else "",
                row[0],
                Markup("\n").join(Markup("<td>{}</td>").format(cell) for cell in row[1:]),
            )
            for row, last in ((row, row is self.rows[-1]) for row in self.rows)
        )
        inner = Markup(
            "<caption>{}</caption>\n<thead><tr>{}</tr></thead>\n<tbody>\n{}\n</tbody>\n</table>"
        ).format(self.title, head, body)
        if words:
            return Markup('<table class="words">\n{}').format(inner)
        return Markup('<div class="wide"><table>\n{}</div>').format(inner)


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a table under declaration.

    ``head``: name, and unit or second line; ``text``: the cell of a row.
    """

    head: tuple[str, str]
    text: Callable[[Any], str]


def words(head: str, read: Callable[[Any], str], unit: str = "") -> Column:
    """A column of texts, whose cell of a row ``read`` gives."""
    return Column(head=(head, unit), text=lambda row: str(read(row)))


def numbers(
    said: Description,
    read: Callable[[Any], Any],
    error: Callable[[Any], Any] | None = None,
    *,
    label: str = "",
    under: str | None = None,
    digits: int = 0,
) -> Column:
    """A column of numbers as their description has them.

    Parameters
    ----------
    said : Description
        Gives label, unit and digits; values are shown in its unit for people.
    read : callable
        The value of a row, in SI.
    error : callable, optional
        Its discretisation error, in SI: ``± error`` behind the value.
    label, under : str, optional
        Head instead of the description's: name, and second line instead of the unit.
    digits : int, optional
        Instead of the description's.
    """
    unit = said.shown or (said.unit if isinstance(said.unit, str) and said.unit != "1" else "")
    size = in_unit(str(said.unit), unit) if unit else 1.0

    def text(row: Any) -> str:
        value = float(np.asarray(read(row)))
        if error is not None:
            return with_error(value / size, float(np.asarray(error(row))) / size)
        if unit == "%":
            return percent(value)
        return significant(value / size, digits or said.digits)

    second = unit if under is None else f"{under}, {unit}".strip(", ") if unit else under
    return Column(head=(label or said.label, second), text=text)


def field(kind: type, name: str, *, lane: int | None = None, **more: Any) -> Column:
    """A column of a described field of the rows.

    Parameters
    ----------
    kind : type
        Of the rows.
    lane : int, optional
        Of fields that hold an array the place that is shown.
    **more
        As of ``numbers``.
    """
    said = descriptions(kind)[name]

    def read(row: Any) -> Any:
        value = getattr(row, name)
        return value if lane is None else value[lane]

    if said.unit == "":
        return words(said.label or name.replace("_", " "), read)
    more.setdefault("label", said.label or name.replace("_", " "))
    return numbers(said, read, **more)


def tabulated(
    title: str, columns: Sequence[Column], records: Iterable[Any], total: Sequence[str] = ()
) -> Table:
    """A table of records. ``total``: cells of a last row that is the sum of those above."""
    rows = [tuple(one.text(record) for one in columns) for record in records]
    if total:
        rows.append(tuple(total))
    return Table(title, tuple(one.head for one in columns), tuple(rows), last_is_sum=bool(total))


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    first = cells[0] if len(cells[0]) <= widths[0] else cells[0][: widths[0] - 1] + "…"
    rest = [cell.rjust(width) for cell, width in zip(cells[1:], widths[1:], strict=True)]
    return GAP.join([first.ljust(widths[0]), *rest]).rstrip()
