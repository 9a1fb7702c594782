"""What is said of a tolerance study: tables, sentences, the JSON object and the page."""

__all__ = ["page"]


def page(record):
    """The report of a record as one HTML page; see ``tailrace.report.tolerance.audit``."""
    from tailrace.report.tolerance.audit import page as make

    return make(record)
