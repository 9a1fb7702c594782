"""The report of a record, whatever kind of record it is."""

from importlib import import_module

from tailrace.records.kinds import kind_of
from tailrace.records.store import RecordError

PAGES = {
    "tailrace record": (
        ("tailrace.records.store", "read_record"),
        ("tailrace.report.page", "page"),
    ),
    "tailrace tolerance": (
        ("tailrace.records.tolerance", "read_tolerance"),
        ("tailrace.report.tolerance", "page"),
    ),
    "tailrace improvement": (
        ("tailrace.records.improvement", "read_improvement"),
        ("tailrace.report.improvement.audit", "page"),
    ),
}
"""By the kind of record: what reads it from its file, and what turns it into a page."""


def page_of(path) -> str:
    """One HTML page with all that a record says; nothing is computed again.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    str

    Raises
    ------
    RecordError
        Where the file is missing, damaged, or of a kind that has no page.
    """
    kind = kind_of(path)
    if kind not in PAGES:
        known = ", ".join(one.removeprefix("tailrace ") for one in PAGES)
        found = kind.removeprefix("tailrace ") or "a file of another origin"
        raise RecordError(
            f"{path}: expected a record of one of the kinds {known}, found {found}; "
            "name a file of `run`, `improve` or `tolerance` --out"
        )
    read, page = (getattr(import_module(module), name) for module, name in PAGES[kind])
    return page(read(path))
