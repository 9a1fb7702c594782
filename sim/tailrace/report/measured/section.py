"""A part of a page or a text about measured signals: sentences, pictures, tables."""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from tailrace.report.table import WIDTH, Table


@dataclass(frozen=True, kw_only=True)
class Section:
    """One part; ``pictures`` are places in the list of all pictures of the page."""

    title: str
    lines: Sequence[str] = ()
    tables: Sequence[Table] = ()
    pictures: Sequence[int] = ()


def as_text(heading: str, sections: Sequence[Section], conclusion: str) -> str:
    """All sections as plain text of at most 110 columns, the conclusion last."""
    blocks = [textwrap.fill(heading, WIDTH)]
    for one in sections:
        if one.lines:
            blocks.append("\n".join(textwrap.fill(line, WIDTH) for line in one.lines))
        blocks += [table.text() for table in one.tables]
    return "\n\n".join([*blocks, textwrap.fill(conclusion, WIDTH)])
