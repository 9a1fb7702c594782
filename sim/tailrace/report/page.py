"""A run as one HTML page that stands alone: no script, nothing fetched, ready to be printed."""

from tailrace.figures.chromatogram import draw_chromatogram
from tailrace.figures.peaks import draw_peaks
from tailrace.figures.sources import draw_sources
from tailrace.figures.stages import draw_stages
from tailrace.records.losses import worst_first
from tailrace.records.record import as_beside, as_provenance, as_result
from tailrace.report.findings import conclusion, pressure_line
from tailrace.report.paper import ALWAYS, inlined, rendered
from tailrace.report.signals import critical_line, signal_tables
from tailrace.report.tables import (
    amounts_table,
    metrics_table,
    parts_table,
    pressure_table,
    recorded_table,
)
from tailrace.report.verification import check_tables, verdict

__all__ = ["ALWAYS", "as_page", "inlined", "page", "pictures_of"]

DRAWN = {
    "stages": draw_stages,
    "sources": draw_sources,
    "peaks": draw_peaks,
    "chromatogram": draw_chromatogram,
}
"""Pictures of a run; the last only where there are two solutes or more."""


def page(record) -> str:
    """The page of a run, from its record alone.

    Parameters
    ----------
    record : xarray.DataTree

    Returns
    -------
    str
        The very text that ``run --out`` writes beside the record.
    """
    return as_page(record, as_provenance(record), pictures_of(record).values())


def pictures_of(record) -> dict:
    """Every picture of a run.

    Parameters
    ----------
    record : xarray.DataTree or Result

    Returns
    -------
    dict of str to Picture
        By the name of its file, in the order of the page.
    """
    many = len(as_result(record).lanes) > 1
    return {name: draw(record) for name, draw in DRAWN.items() if many or name != "chromatogram"}


def as_page(record, provenance, pictures):
    """Everything that is known about a run, as one HTML file.

    Parameters
    ----------
    record : xarray.DataTree or Result
    provenance : Provenance
    pictures : sequence of Picture
        Set into the page as SVG, in this order.

    Returns
    -------
    str
        The same input gives the same text on one machine. It holds no address, and its policy
        forbids whoever opens it to fetch anything.
    """
    result = as_result(record)
    order = worst_first(result)
    check = None if record is result else as_beside(record, "cross_check")
    return rendered(
        "page.html.j2",
        pictures,
        provenance=provenance,
        conclusion=conclusion(result),
        warnings=result.warnings,
        recorded=[recorded_table(result), amounts_table(result), *signal_tables(result)],
        critical=critical_line(result),
        solutes=[(parts_table(result, lane), metrics_table(result, lane)) for lane in order],
        pressure_line=pressure_line(result.pressure, result.parts),
        pressure=pressure_table(result.pressure),
        check=None if check is None else (verdict(check), check_tables(check)),
    )
