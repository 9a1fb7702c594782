"""What a study of measured signals says, in parts: sentences, pictures, tables; and its forms.

Every such study is told by one ``Telling``; records and figures are loaded where they are needed.
"""

import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, TypeAlias

from tailrace.records.provenance import Provenance
from tailrace.report.table import WIDTH, Table
from tailrace.studies.measured.result import Overlay

if TYPE_CHECKING:
    from tailrace.figures.style import Picture

CLOCK = (
    "a clock of the data system that runs wrong stretches every peak alike, as flow and "
    "diffusivity that are off by the same share would (only a response that is slow beside the "
    "peak would tell): weigh what the pump delivers in some minutes by a stopwatch, and hold the "
    "time between two injections in the files against that stopwatch"
)
"""What signals whose times alone are known do not tell."""
CLOSE_BENDS = (
    "bends so close that De^2 nu/D is over 100,000 (De: Reynolds number times the root of half the "
    "bore over the bend radius; nu: kinematic viscosity; D: diffusivity) are taken to spread a "
    "band as one at 100,000 does: their radii cannot be told apart. Where the fitted radius is "
    "about as small as that or smaller, any such radius would do as well"
)
"""What is said where a bend radius is fitted."""


def bent(fields: Iterable[str]) -> bool:
    """Whether one of some fields is a bend radius."""
    return any("bend" in one and one.endswith("radius") for one in fields)


Drawings: TypeAlias = "Mapping[str, Callable[[], Picture]]"


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
    last = "\n".join(textwrap.fill(line, WIDTH) for line in conclusion.split("\n"))
    return "\n\n".join([*blocks, last])


def _overlay(one: Overlay) -> "Picture":
    from tailrace.figures.measured import draw_overlay

    return draw_overlay(one)


def overlays_of(study: Any, prefix: str = "overlay") -> Drawings:
    """Each measurement with the simulated signal upon it, by the name of its picture."""
    drawn = enumerate(study.measured.values(), 1)
    return {f"{prefix}-{at}": partial(_overlay, one) for at, one in drawn}


def _files(study: Any) -> Iterable[tuple[str, str]]:
    return [(one.file, one.sha256) for one in getattr(study, "measured", {}).values()]


@dataclass(frozen=True, kw_only=True)
class Telling:
    """How one kind of study is told.

    Parameters
    ----------
    numbers : callable
        What its JSON object holds beside what all of them do; SI.
    drawings : callable
        Its pictures, by their names, in the order of the page.
    conclusion : callable
        What matters most, in its first line; what is said of each signal in further ones.
    printed : callable
        Sections and last words on a terminal, where they are not those of the page.
    files : callable
        Files that it read, each with its SHA-256.
    calculated : bool
        Whether anything on the page is; else it is measured.
    """

    title: str
    method: Sequence[str]
    conclusion: Callable[[Any], str]
    sections: Callable[[Any], Sequence[Section]]
    numbers: Callable[[Any], dict[str, Any]]
    cautions: Callable[[Any], Sequence[str]] = lambda study: ()
    drawings: Callable[[Any], Drawings] = overlays_of
    printed: Callable[[Any], tuple[Sequence[Section], str]] | None = None
    files: Callable[[Any], Iterable[tuple[str, str]]] = _files
    calculated: bool = True

    def text_of(self, study: Any) -> str:
        """Everything that is said of a study, as plain text."""
        if self.printed is None:
            parts, last = self.sections(study), self.conclusion(study)
        else:
            parts, last = self.printed(study)
        return as_text(study.title, parts, last, self.cautions(study))

    def pictures_of(self, study: Any) -> "dict[str, Picture]":
        """Its pictures, by their names."""
        return {name: draw() for name, draw in self.drawings(study).items()}

    def picture(self, study: Any) -> "Picture":
        """The one that says most."""
        return next(iter(self.drawings(study).values()))()

    def page(self, record: Any, pictures: "Mapping[str, Picture] | None" = None) -> str:
        """Its page, from its record; ``pictures``: of ``pictures_of``, where they are at hand."""
        from tailrace.records.trade import as_recorded

        return str(as_recorded(self._page)(record, pictures))

    def _page(self, record: Any, pictures: "Mapping[str, Picture] | None") -> str:
        from tailrace.records.record import as_provenance, as_result
        from tailrace.report.paper import ALWAYS, rendered

        study = as_result(record)
        return rendered(
            "measured/sections.html.j2",
            (pictures or self.pictures_of(study)).values(),
            provenance=as_provenance(record),
            heading=f"{self.title}: {study.title}",
            finding=self.conclusion(study).split("\n"),
            cautions=self.cautions(study),
            sections=self.sections(study),
            method=self.method,
            files=self.files(study),
            always=ALWAYS if self.calculated else ALWAYS[1:],
        )

    def as_json(self, study: Any, provenance: Provenance) -> dict[str, Any]:
        """The object that its command prints with ``--json``."""
        return {
            "contract": 2,
            "version": provenance.version,
            "scenario_sha256": provenance.scenario_sha256 or None,
            "title": study.title,
            **self.numbers(study),
            "cautions": list(self.cautions(study)),
            "sentence": self.conclusion(study).replace("\n", " "),
        }
