"""The report of a record, whatever kind of record it is."""

from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

from tailrace.records.store import RecordError, opened, read_record

PAGES = {
    "tailrace record": "tailrace.report.page",
    "tailrace tolerance": "tailrace.report.tolerance",
    "tailrace improvement": "tailrace.report.improvement.audit",
}
"""By the kind of record: the module whose ``page`` turns it into a page."""
COMMANDS = "`run --out`, `improve --out` or `tolerance --out`"


def page_of(path: str | Path) -> str:
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
    kind = str(opened(path, COMMANDS).attrs.get("kind", ""))
    if kind not in PAGES:
        known = ", ".join(one.removeprefix("tailrace ") for one in PAGES)
        found = kind.removeprefix("tailrace ") or "a file of another origin"
        raise RecordError(
            f"{path}: expected a record of one of the kinds {known}, found {found}; "
            f"name a file of {COMMANDS}"
        )
    made: Callable[[Any], str] = import_module(PAGES[kind]).page
    return made(read_record(path, kind))
