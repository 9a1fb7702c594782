"""The text of ``tailrace tolerance``."""

from dataclasses import replace

from tailrace.report.table import Headline, Table, shown
from tailrace.report.tolerance import sentences, tables
from tailrace.studies.tolerance.result import Tolerance


def as_text(study: Tolerance) -> str:
    """Everything that ``tolerance`` says, as plain text of at most 110 columns."""
    return shown(blocks(study))


def blocks(study: Tolerance) -> list[str | Table]:
    """The same, to be shown at any width."""
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
    return [
        Headline(study.title),
        replace(tables.inputs_table(study), words=True),
        *(one for one in numbers if one is not None),
        *(sentences.region(one) for one in study.maps),
        *([replace(qualification, words=True)] if qualification else []),
        "\n".join(sentences.remarks(study)),
        Headline(sentences.conclusion(study)),
    ]
