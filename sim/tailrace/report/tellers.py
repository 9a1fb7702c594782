"""Who tells of each kind of record; imported when it is needed."""

from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tailrace.figures.style import Picture

PAGES = {
    "tailrace record": "tailrace.report.page",
    "tailrace tolerance": "tailrace.report.tolerance.audit",
    "tailrace improvement": "tailrace.report.improvement.audit",
    "tailrace measurement": "tailrace.report.measured.files",
    "tailrace comparison": "tailrace.report.measured.comparison",
    "tailrace fit": "tailrace.report.measured.fit",
    "tailrace diagnosis": "tailrace.report.measured.diagnosis",
    "tailrace measurement plan": "tailrace.report.measured.protocol",
    "tailrace steps": "tailrace.report.measured.steps",
}
"""By the kind of record: the module whose ``page``, or that of its ``TOLD``, makes its page."""


def told_by(kind: str) -> Any:
    """What makes text, pictures and page of a kind of record, by its ``PAGES``."""
    module = import_module(PAGES[kind])
    return getattr(module, "TOLD", module)


def page_of(path: str | Path) -> str:
    """The page of a record of any kind that has one; nothing is computed again.

    Raises RecordError where the file is missing, damaged, or of a kind that has no page.
    """
    from tailrace.records.envelope import signatures_of
    from tailrace.records.record import SIGNED
    from tailrace.records.store import read_record

    record = read_record(path, *PAGES)
    signed = signatures_of(Path(path))
    if signed:
        record.attrs[SIGNED] = signed
    page: Callable[[Any], str] = told_by(record.attrs["kind"]).page
    return page(record)


def pictures_from(path: str | Path) -> "dict[str, Picture]":
    """Every picture of a record of any kind that has a page, by the name of its file.

    In the size that ``tailrace.figures.sizes.wanting`` says. Raises RecordError as of ``page_of``.
    """
    from tailrace.records.record import as_result
    from tailrace.records.store import read_record

    record = read_record(path, *PAGES)
    kind: str = record.attrs["kind"]
    draw: Callable[[Any], dict[str, Picture]] = told_by(kind).pictures_of
    whole = kind in ("tailrace record", "tailrace improvement")
    return draw(record if whole else as_result(record))
