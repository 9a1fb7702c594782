"""What is said of a tolerance study: tables, sentences, the JSON object and the page."""

from typing import Any


def page(record: Any) -> str:
    """The report of a record as one HTML page; see ``tailrace.report.tolerance.audit``."""
    from tailrace.report.tolerance.audit import page as make

    return make(record)
