"""Who tells of each kind of record; imported when it is needed."""

from importlib import import_module
from typing import Any

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
