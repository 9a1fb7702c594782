"""The text of ``tailrace tolerance``."""

import textwrap

from tailrace.report.table import WIDTH, Table
from tailrace.report.tolerance import sentences, tables
from tailrace.studies.tolerance.result import Tolerance

PLAIN = ("distribution", "kind", "how, how often")
"""Heads that the cells make plain by themselves."""


def as_text(study: Tolerance) -> str:
    """Everything that ``tolerance`` says, as plain text of at most 110 columns."""
    numbers = (
        tables.spread_table(study),
        tables.intervals_table(study),
        tables.acceptance_table(study),
        tables.kinds_table(study),
        tables.tolerance_limits_table(study),
        tables.first_order_table(study),
        *tables.indices_tables(study),
        tables.widening_table(study),
    )
    qualification = tables.qualification_table(study)
    blocks = [
        study.title,
        listed(tables.inputs_table(study)),
        *(one.text() for one in numbers if one is not None),
        *(_wrapped(sentences.region(one)) for one in study.maps),
        *([listed(qualification)] if qualification else []),
        "\n".join(map(_wrapped, sentences.remarks(study))),
        _wrapped(sentences.conclusion(study)),
    ]
    return "\n\n".join(blocks)


def listed(table: Table) -> str:
    """A table of words as plain text: a paragraph for each row."""
    lines = [table.title, "-" * len(table.title)]
    for row in table.rows:
        cells = [row[0]]
        for (name, _), cell in zip(table.head[1:], row[1:], strict=True):
            if cell:
                cells.append(cell if name in PLAIN else f"{name}: {cell}")
        text = "; ".join(one.removesuffix(".") for one in cells) + "."
        lines.append(textwrap.fill(text, WIDTH, subsequent_indent="    ", break_on_hyphens=False))
    return "\n".join(lines)


def _wrapped(line: str) -> str:
    return textwrap.fill(line, WIDTH)
