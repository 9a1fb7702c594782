"""A part of a page or a text about measured signals: sentences, pictures, tables; and the page."""

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tailrace.figures.measured import draw_overlay
from tailrace.figures.style import Picture
from tailrace.records.record import as_provenance
from tailrace.report.paper import rendered
from tailrace.report.table import WIDTH, Table
from tailrace.studies.measured.result import Overlay


@dataclass(frozen=True, kw_only=True)
class Section:
    """One part; ``pictures`` are places in the list of all pictures of the page."""

    title: str
    lines: Sequence[str] = ()
    tables: Sequence[Table] = ()
    pictures: Sequence[int] = ()


def as_text(
    heading: str, sections: Sequence[Section], conclusion: str, cautions: Sequence[str] = ()
) -> str:
    """All sections as plain text of at most 110 columns, the conclusion last."""
    blocks = [textwrap.fill(heading, WIDTH)]
    warned = [f"Caution: {line}." for line in cautions]
    for one in [*sections, *([Section(title="", lines=warned)] if warned else [])]:
        if one.lines:
            blocks.append("\n".join(textwrap.fill(line, WIDTH) for line in one.lines))
        blocks += [table.text() for table in one.tables]
    return "\n\n".join([*blocks, textwrap.fill(conclusion, WIDTH)])


def overlays_of(measured: Mapping[str, Overlay]) -> dict[str, Picture]:
    """Each measurement with the simulated signal upon it, by the name of its picture."""
    return {f"overlay-{at}": draw_overlay(one) for at, one in enumerate(measured.values(), 1)}


def page_of(
    record: Any,
    heading: str,
    conclusion: str,
    sections: Sequence[Section],
    *,
    pictures: Mapping[str, Picture],
    measured: Mapping[str, Overlay],
    method: Sequence[str],
    cautions: Sequence[str] = (),
) -> str:
    """The page of a study of measured signals, from its record."""
    return rendered(
        "measured/sections.html.j2",
        pictures.values(),
        provenance=as_provenance(record),
        heading=heading,
        conclusion=conclusion,
        cautions=cautions,
        sections=sections,
        method=method,
        files=[(one.file, one.sha256) for one in measured.values()],
    )
