"""A study of changes as one HTML page that an auditor can follow and sign."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from tailrace.figures.columns import draw_columns_improved
from tailrace.figures.improvement import (
    demands_that_tell,
    draw_before_after,
    draw_frontiers,
    draw_staircase,
)
from tailrace.records.record import as_beside, as_provenance, as_result
from tailrace.records.trade import as_recorded, for_people
from tailrace.report.columns import gains_lines, gains_table
from tailrace.report.improvement import sentences, tables
from tailrace.report.improvement.pressures import unchecked_line
from tailrace.report.paper import rendered
from tailrace.report.sentences import verdict as check_verdict
from tailrace.report.tables import check_tables

if TYPE_CHECKING:
    from xarray import DataTree

    from tailrace.figures.style import Picture
    from tailrace.studies.improving.result import Improvement


@as_recorded
def pictures_of(record: DataTree) -> dict[str, Picture]:
    """Every picture, by the name of its file: ``steps``, ``frontiers`` and ``peaks``, with several
    columns ``columns`` in the place of the last; no ``frontiers`` where nothing differs in what
    it costs or takes."""
    improvement, states = for_people(as_result(record)), as_beside(record, "states")
    several = improvement.combinations.by_column is not None
    return {
        "steps": draw_staircase(improvement),
        **({"columns": draw_columns_improved(improvement)} if several else {}),
        **({"frontiers": draw_frontiers(improvement)} if demands_that_tell(improvement) else {}),
        **({} if several else {"peaks": draw_before_after(states)}),
    }


@as_recorded
def page(record: DataTree, pictures: Mapping[str, Picture] | None = None) -> str:
    """The report of a study of changes, from its record alone.

    The same record gives the same text on one machine. ``pictures``: of ``pictures_of``, where they
    are at hand.
    """
    pictures = pictures or pictures_of(record)
    improvement, states = for_people(as_result(record)), as_beside(record, "states")
    checks = as_beside(record, "checks") or {}
    return rendered(
        "improvement/audit.html.j2",
        list(pictures.values()),
        place={name: index for index, name in enumerate(pictures)},
        provenance=as_provenance(record),
        verdict=sentences.verdict(improvement),
        **_content(improvement),
        warnings=sentences.warning_lines(states),
        states=tables.state_tables(states),
        parts=tables.part_tables(states),
        checks=[
            (name, check_verdict(check), check_tables(check)) for name, check in checks.items()
        ],
    )


def _content(improvement: Improvement) -> dict[str, Any]:
    """Tables and sentences in the order in which they are read."""
    known = improvement.expected is not None
    order = (
        sentences.order_line(improvement),
        sentences.doubt_line(improvement),
        sentences.stop_line(improvement),
        *sentences.broken_lines(improvement),
        unchecked_line(improvement),
    )
    return {
        "about": sentences.about(improvement),
        "asked": tables.asked(improvement),
        "changes": tables.choices_table(improvement),
        "uncertain": tables.uncertain_table(improvement),
        "steps": tables.steps_table(improvement),
        "gains": gains_table(improvement),
        "gains_lines": gains_lines(improvement),
        "done": tables.work_table(improvement),
        "order": [line for line in order if line],
        "worth": tables.changes_table(improvement),
        "chosen": [sentences.best_line(improvement), *sentences.left_out_lines(improvement)],
        "theory": sentences.theory_lines(improvement),
        "frontiers": tables.frontier_tables(improvement),
        "basis": sentences.basis_line(improvement) if known else "",
        "expected": tables.expected_table(improvement) if known else None,
        "numerical": tables.error_table(improvement),
        "computed": sentences.computed_line(improvement),
    }
