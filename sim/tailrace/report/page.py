"""A run as one HTML page that stands alone: no script, nothing fetched, ready to be printed."""

from collections.abc import Iterable, Mapping

import xarray

from tailrace.figures.columns import draw_columns
from tailrace.figures.path import draw_sources, draw_stages
from tailrace.figures.peaks import draw_chromatogram, draw_peaks
from tailrace.figures.style import Picture
from tailrace.journey.result import Result
from tailrace.measures.registry import CAPACITY
from tailrace.records.provenance import Provenance
from tailrace.records.record import as_beside, as_provenance, as_result
from tailrace.records.separation import worst_first
from tailrace.records.trade import as_recorded
from tailrace.report.columns import left_lines, left_table
from tailrace.report.paper import rendered
from tailrace.report.sentences import (
    assumption_lines,
    conclusion,
    critical_line,
    pressure_line,
    verdict,
)
from tailrace.report.tables import (
    amounts_table,
    check_tables,
    metrics_table,
    parts_table,
    pressure_table,
    recorded_table,
    regained_table,
    signal_tables,
)

DRAWN = {
    "sources": draw_sources,
    "peaks": draw_peaks,
    "stages": draw_stages,
    "chromatogram": draw_chromatogram,
    "columns": draw_columns,
}
"""Pictures of a run; the chromatogram only where there are two solutes or more, the last only where
there are several columns."""


@as_recorded
def page(record: xarray.DataTree, pictures: Mapping[str, Picture] | None = None) -> str:
    """The page of a run, from its record alone: the very text that ``run --out`` writes.

    ``pictures``: of ``pictures_of``, where they are at hand.
    """
    drawn = pictures or pictures_of(record)
    return as_page(record, as_provenance(record), drawn.values())


@as_recorded
def pictures_of(record: xarray.DataTree | Result) -> dict[str, Picture]:
    """Every picture of a run, by the name of its file, in the order of the page."""
    result = as_result(record)
    left = {"chromatogram": len(result.lanes) > 1, "columns": bool(result.columns)}
    return {name: draw(record) for name, draw in DRAWN.items() if left.get(name, True)}


def as_page(
    record: xarray.DataTree | Result, provenance: Provenance, pictures: Iterable[Picture]
) -> str:
    """Everything that is known about a run, as one HTML file; pictures are set in as SVG.

    The same input gives the same text on one machine. It holds no address, and its policy forbids
    whoever opens it to fetch anything.
    """
    result: Result = as_result(record)
    order = worst_first(result)
    check = None if isinstance(record, Result) else as_beside(record, "cross_check")
    return rendered(
        "page.html.j2",
        pictures,
        provenance=provenance,
        conclusion=conclusion(result),
        warnings=result.warnings,
        recorded=[recorded_table(result), amounts_table(result), *signal_tables(result)],
        left=left_table(result),
        left_lines=left_lines(result),
        doubts=assumption_lines(result),
        critical=critical_line(result),
        regained=regained_table(result),
        solutes=[(parts_table(result, lane), metrics_table(result, lane)) for lane in order],
        pressure_line=pressure_line(result.pressure, result.parts, CAPACITY in result.recorded),
        pressure=pressure_table(result.pressure),
        check=None if check is None else (verdict(check), check_tables(check)),
    )
