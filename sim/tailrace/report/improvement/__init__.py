"""What changes to an instrument bring: as text, JSON object, work sheet and report."""

__all__ = ["page"]


def page(record):
    """The report of a record as one HTML page; see ``tailrace.report.improvement.audit``."""
    from tailrace.report.improvement.audit import page as make

    return make(record)
