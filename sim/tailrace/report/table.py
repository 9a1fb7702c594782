"""Tables: declared column by column, rendered as text of any width and as HTML."""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from textwrap import fill, wrap
from typing import Any, TypeAlias

import numpy as np
from markupsafe import Markup, escape

from tailrace.quantities.described import Description, descriptions
from tailrace.records.trade import people
from tailrace.report.numbers import NOT_RESOLVED, is_resolved, percent, significant, with_error
from tailrace.wording import LANGUAGE

Strong: TypeAlias = Callable[[str], str]
"""Marks a line as important, where a terminal can show it."""
WIDTH = 110
"""Columns of plain text, at most, where no terminal is narrower."""
CELL = 40
"""Letters beyond which what stands in a table of words is not said twice."""
LONG = 8
"""Rows of a table, above which it may be broken over pages of paper."""
LEAST_NAME = 16
"""Letters of a line that a name gets at least, before columns are folded below the others."""
GAP = "  "
BLANK = "." * 10
"""A cell to be filled in by hand."""
PLAIN = ("distribution", "kind", "how, how often")
"""Heads of words that the cells make plain by themselves."""


MICRO = re.compile(r"\bu(?=(?:[Lm]|AU|mol)(?:\b|[²³]))")
RAISED = re.compile(r"(?<=[A-Za-z])\^([236])\b")
POWERS = {"2": "²", "3": "³", "6": "⁶"}
UM_IS_A_WORD = re.compile(r"(?<=\d )u(?=m(?:\b|[²³]))|^u(?=m$)|\bu(?=(?:L|AU|mol)(?:\b|[²³]))")
"""As MICRO, in a language in which ``um`` is a word: of a number, or alone."""


def typeset(value: Any) -> Any:
    """A text with its units as in print: µL, s²; what is marked up already stays as it is."""
    if type(value) is not str:
        return value
    micro = UM_IS_A_WORD if LANGUAGE.get() == "de" else MICRO
    return RAISED.sub(lambda found: POWERS[found[1]], micro.sub("µ", value))


NAMES = re.compile(r"(?<=\w{6}/)(?=\w{6})")
"""Between two long names, where a narrow column may break."""
PLACES = re.compile(r"(?<=[/_:])(?=[a-z])")
"""The same in the place of a test."""


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
    words: bool = False

    def text(self, width: int = WIDTH, strong: Strong = str) -> str:
        """Plain text: names to the left, numbers to the right.

        A table too wide for ``width`` columns is folded: columns that find no room stand below,
        behind the names again. A name that is longer than its column goes on in the next line.
        """
        if self.words:
            return self._paragraphs(width)
        head = list(zip(*self.head, strict=True))
        lines = [*head, *self.rows]
        widths = [max(len(line[k]) for line in lines) for k in range(len(self.head))]
        room = width - sum(widths[1:]) - len(GAP) * (len(widths) - 1)
        least = min(LEAST_NAME, width // 2)
        widths[0] = min(widths[0], room if room >= least else max(least, width // 3))
        blocks: list[list[int]] = [[]]
        for k in range(1, len(widths)):
            taken = widths[0] + sum(len(GAP) + widths[j] for j in (*blocks[-1], k))
            if blocks[-1] and taken > width:
                blocks.append([])
            blocks[-1].append(k)
        folds = [self._folded(lines, [0, *block], widths) for block in blocks]
        return "\n".join([*(strong(line) for line in fill(self.title, width).split("\n")), *folds])

    def _folded(self, lines: Sequence[Sequence[str]], columns: list[int], widths: list[int]) -> str:
        text = [_line([line[k] for k in columns], [widths[k] for k in columns]) for line in lines]
        rule = "-" * max(len(part) for line in text for part in line.split("\n"))
        text[1:2] = [text[1], rule] if text[1] else [rule]
        if self.last_is_sum:
            text.insert(-1, rule)
        return "\n".join(text)

    def once(self) -> "Table":
        """With long cells that repeat one above in its column named after that row."""
        rows: list[tuple[str, ...]] = []
        for row in self.rows:
            above = [
                next((one[0] for one in self.rows[: len(rows)] if one[at] == cell), "")
                for at, cell in enumerate(row)
            ]
            pairs = zip(row, above, strict=True)
            rows.append(tuple(f"as for {one}" if one and len(c) > CELL else c for c, one in pairs))
        return replace(self, rows=tuple(rows))

    def _paragraphs(self, width: int) -> str:
        lines = [self.title, "-" * len(self.title)]
        for row in self.rows:
            cells = [row[0]]
            for (name, _), cell in zip(self.head[1:], row[1:], strict=True):
                if cell:
                    cells.append(cell if name in PLAIN else f"{name}: {cell}")
            text = "; ".join(one.removesuffix(".") for one in cells) + "."
            lines.append(fill(text, width, subsequent_indent="    ", break_on_hyphens=False))
        return "\n".join(lines)

    def html(self, words: bool = False) -> Markup:
        """An HTML element; every text is escaped. ``words``: as if the table's own were so."""
        head = Markup("\n").join(
            Markup('<th scope="col">{}</th>').format(
                Markup("<br>").join(escape(typeset(one)) for one in pair if one)
            )
            for pair in self.head
        )
        body = Markup("\n").join(
            Markup('<tr{}><th scope="row">{}</th>\n{}</tr>').format(
                Markup(' class="sum"') if self.last_is_sum and last else "",
                typeset(row[0]),
                Markup("\n").join(map(_cell, row[1:])),
            )
            for row, last in ((row, row is self.rows[-1]) for row in self.rows)
        )
        inner = Markup(
            "<caption>{}</caption>\n<thead><tr>{}</tr></thead>\n<tbody>\n{}\n</tbody>\n</table>"
        ).format(typeset(self.title), head, body)
        if self.words or words:
            return Markup('<table class="words">\n{}').format(inner)
        long = "" if len(self.rows) <= LONG else " long"
        return Markup('<div class="wide{}" tabindex="0"><table>\n{}</div>').format(long, inner)


def _cell(text: str) -> Markup:
    if text == BLANK:
        return Markup('<td class="box"></td>')
    apart = PLACES if "/test_" in text else NAMES
    return Markup("<td>{}</td>").format(Markup("<wbr>").join(apart.split(typeset(text))))


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a table under declaration.

    ``head``: name, and unit or second line; ``text``: the cell of a row.
    """

    head: tuple[str, str]
    text: Callable[[Any], str]


class Headline(str):
    """A line of text that matters most."""


def shown(blocks: Iterable["str | Table"], width: int = WIDTH, strong: Strong = str) -> str:
    """Tables and paragraphs, with an empty line between them; without a line end.

    Parameters
    ----------
    blocks : iterable of str or Table
        Lines of a text are wrapped one by one; a ``Headline`` is strong.
    width : int
        Columns, at most, but for a number that is wider.
    strong : callable
        Of a line.
    """
    texts = []
    for block in blocks:
        if isinstance(block, Table):
            texts.append(block.text(width, strong))
            continue
        mark = strong if isinstance(block, Headline) else str
        lines = (part for line in block.split("\n") for part in fill(line, width).split("\n"))
        texts.append("\n".join(mark(line) if line else "" for line in lines))
    return "\n\n".join(texts)


def words(head: str, read: Callable[[Any], str], unit: str = "") -> Column:
    """A column of texts, whose cell of a row ``read`` gives."""
    return Column(head=(head, unit), text=lambda row: str(read(row)))


def numbers(
    description: Description,
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
    description : Description
        Gives label, unit and digits; values are shown in its unit for people.
    read : callable
        The value of a row, in SI.
    error : callable, optional
        Its discretisation error, in SI: ``± error`` behind the value, or that this says nothing.
    label, under : str, optional
        Head instead of the description's: name, and second line instead of the unit.
    digits : int, optional
        Instead of the description's.
    """
    shown_in = people(
        description.unit if isinstance(description.unit, str) else "1", description.shown
    )
    unit, size = shown_in.unit, shown_in.size

    def text(row: Any) -> str:
        value = float(np.asarray(read(row)))
        if error is not None:
            wrong = float(np.asarray(error(row)))
            if not is_resolved(value, wrong):
                return NOT_RESOLVED
            return with_error(value / size, wrong / size)
        if unit == "%":
            return percent(value)
        return significant(value / size, digits or description.digits)

    second = unit if under is None else f"{under}, {unit}".strip(", ") if unit else under
    return Column(head=(label or description.label, second), text=text)


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
    description = descriptions(kind)[name]

    def read(row: Any) -> Any:
        value = getattr(row, name)
        return value if lane is None else value[lane]

    if description.unit == "":
        return words(description.label or name.replace("_", " "), read)
    more.setdefault("label", description.label or name.replace("_", " "))
    return numbers(description, read, **more)


def tabulated(
    title: str, columns: Sequence[Column], records: Iterable[Any], total: Sequence[str] = ()
) -> Table:
    """A table of records. ``total``: cells of a last row that is the sum of those above."""
    rows = [tuple(one.text(record) for one in columns) for record in records]
    if total:
        rows.append(tuple(total))
    return Table(title, tuple(one.head for one in columns), tuple(rows), last_is_sum=bool(total))


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    first, *more = wrap(cells[0], widths[0], subsequent_indent=GAP) or [""]
    rest = [cell.rjust(width) for cell, width in zip(cells[1:], widths[1:], strict=True)]
    return "\n".join([GAP.join([first.ljust(widths[0]), *rest]).rstrip(), *more])
