"""What goes with the figures of a gallery: their numbers as CSV, and an index page in HTML."""

import csv
import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from tailrace.report.numbers import significant
from tailrace.report.paper import inlined, template, unbroken
from tailrace.studies.gallery.exhibit import Exhibit, Series
from tailrace.wording import LANGUAGE, number, say

DIGITS = 9
"""Far more than the discretisation error deserves, and few enough to be the same everywhere."""
LEAST = 0.001
"""Per cent below which an error is told as a bound."""


@dataclass(frozen=True, kw_only=True)
class Hung:
    """One figure of the page, and the names of the files beside the page that hold it."""

    exhibit: Exhibit
    svg: bytes
    files: tuple[str, ...]


def as_index(hung: Sequence[Hung], shown: str, version: str) -> str:
    """The page.

    ``shown``: one sentence on which instrument is shown; ``version``: of tailrace. The page
    holds the figures and fetches nothing; the same input gives the same text.
    """
    shelf = [_entry(one) for one in hung]
    about: dict[str, Any] = {"shown": shown, "version": version, "language": LANGUAGE.get()}
    about["paged"] = say("page"), say("of")
    return unbroken(template("gallery.html.j2").render(shelf=shelf, say=say, **about))


def _entry(one: Hung) -> dict[str, Any]:
    exhibit = one.exhibit
    return {
        "name": exhibit.name,
        "title": exhibit.title,
        "caption": exhibit.caption,
        "alt": exhibit.alt,
        "files": one.files,
        "error": _error(exhibit),
        "svg": Markup(inlined(one.svg, f"{exhibit.name}-")),
        "columns": [(name, row.shown[0], say(row.meaning)) for name, row in exhibit.table.items()],
    }


def _error(exhibit: Exhibit) -> str:
    """The largest error in a sentence; one that nobody sees as a bound."""
    share = 100 * exhibit.largest_error
    shown = say("below {least} %", least=number(str(LEAST)))
    if share >= LEAST:
        shown = f"{number(significant(share, 1))} %"
    return say(exhibit.about_error, error=shown)


def as_csv(table: Mapping[str, Series]) -> bytes:
    """A table as CSV (RFC 4180) in UTF-8, in units for people; the same table, the same bytes.

    ``table``: columns of equal length. The first line names each column with its unit, ``time
    [s]``. Where there is no number the cell is empty.
    """
    sink = io.StringIO()
    writer = csv.writer(sink, lineterminator="\r\n")
    shown = {name: one.shown for name, one in table.items()}
    writer.writerow([f"{name} [{unit}]" if unit else name for name, (unit, _) in shown.items()])
    columns = (
        one.values.tolist() if one.shown[1] == 1 else (one.values / one.shown[1]).tolist()
        for one in table.values()
    )
    for row in zip(*columns, strict=True):
        writer.writerow([_cell(value) for value in row])
    return sink.getvalue().encode()


def _cell(value: str | float) -> str:
    if isinstance(value, str):
        return value
    return f"{value:.{DIGITS}g}" if math.isfinite(value) else ""
