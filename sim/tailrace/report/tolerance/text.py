"""The text of ``tailrace tolerance``."""

import textwrap

from tailrace.report.table import WIDTH, Table
from tailrace.report.tolerance import tables, words


def as_text(study) -> str:
    """Everything that ``tolerance`` says, as plain text of at most 110 columns.

    Parameters
    ----------
    study : tailrace.records.tolerance_study.Study

    Returns
    -------
    str
        Without a line end.
    """
    numbers = [
        tables.spread_table(study),
        tables.intervals_table(study),
        *filter(None, [tables.kinds_table(study), tables.tolerance_limits_table(study)]),
        tables.first_order_table(study),
        *tables.indices_tables(study),
        *filter(None, [tables.widening_table(study)]),
    ]
    if any(one.acceptance is not None for one in study.outcomes):
        numbers.insert(2, tables.acceptance_table(study))
    said = [study.provenance.title, words.listed(words.inputs_words(study))]
    said += map(Table.text, numbers)
    said += [wrapped(line) for line in words.maps_words(study)]
    qualification = words.qualification_words(study)
    if qualification is not None:
        said.append(words.listed(qualification))
    said.append("\n".join(wrapped(line) for line in words.remarks(study)))
    said.append(wrapped(words.conclusion(study)))
    return "\n\n".join(said)


def wrapped(line) -> str:
    """A line cut to the width of the page."""
    return textwrap.fill(line, WIDTH)
