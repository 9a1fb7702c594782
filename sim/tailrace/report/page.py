"""A run as one HTML page that stands alone: no script, nothing fetched, ready to be printed."""

import math

from tailrace.figures.chromatogram import draw_chromatogram
from tailrace.figures.peaks import draw_peaks
from tailrace.figures.sources import draw_sources
from tailrace.figures.stages import draw_stages
from tailrace.measures.registry import of_peaks
from tailrace.records.losses import worst_first
from tailrace.records.record import as_beside, as_provenance, as_result
from tailrace.report.findings import BAR, conclusion, pressure_line
from tailrace.report.numbers import significant
from tailrace.report.paper import ALWAYS, inlined, rendered
from tailrace.report.signals import critical_line, signal_tables
from tailrace.report.table import Table
from tailrace.report.tables import parts_table, recorded_table
from tailrace.report.verification import check_tables, verdict

__all__ = [
    "ALWAYS",
    "as_page",
    "figures_table",
    "inlined",
    "page",
    "pictures_of",
    "pressure_table",
]

DRAWN = {
    "stages": draw_stages,
    "sources": draw_sources,
    "peaks": draw_peaks,
    "chromatogram": draw_chromatogram,
}
"""Pictures of a run; the last only where there are two solutes or more."""

FIGURE_HEAD = (("figure", ""), ("", "unit"), ("recorded", "value"), ("discretisation", "error"))
PRESSURE_HEAD = (("part", ""), ("pressure drop", "bar"))


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
        recorded=[recorded_table(result), *signal_tables(result)],
        critical=critical_line(result),
        solutes=[(parts_table(result, lane), figures_table(result, lane)) for lane in order],
        pressure_line=pressure_line(result.pressure),
        pressure=pressure_table(result.pressure),
        check=None if check is None else (verdict(check), check_tables(check)),
    )


def figures_table(result, lane):
    """Every figure read off one recorded peak, with its estimated discretisation error.

    Parameters
    ----------
    result : Result
    lane : int

    Returns
    -------
    Table
        A dash where a figure, or its error, does not exist.
    """
    rows = []
    for name, row in of_peaks().items():
        unit, meaning = row.unit, row.meaning
        if name in result.recorded:
            error = result.numerical_error.get(name)
            rows.append(
                (
                    meaning,
                    "" if unit == "1" else unit,
                    significant(result.recorded[name][lane], 5),
                    significant(math.nan if error is None else abs(error[lane]), 2),
                )
            )
    return Table(f"Figures of the recorded peak: {result.lanes[lane]}", FIGURE_HEAD, tuple(rows))


def pressure_table(pressure):
    """The pressure drop of each part (Pressure, in Pa); returns Table, in bar."""
    rows = [(name, significant(drop / BAR)) for name, drop in pressure.parts.items()]
    rows.append(("whole path", significant(pressure.total / BAR)))
    return Table("Pressure drop of each part", PRESSURE_HEAD, tuple(rows), last_is_sum=True)
