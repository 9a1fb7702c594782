"""Objects as a notebook shows them: tables and a small figure, as a piece of HTML."""

import hashlib
from functools import singledispatch
from importlib import resources

import numpy as np
from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from tailrace.display import Handed
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.result import Result
from tailrace.records.losses import worst_first
from tailrace.records.trade import in_unit
from tailrace.report.findings import conclusion, pressure_line
from tailrace.report.improvement.sentences import stop_line, verdict
from tailrace.report.improvement.tables import steps_table
from tailrace.report.numbers import significant
from tailrace.report.page import inlined
from tailrace.report.sweep import rows_of
from tailrace.report.table import Table
from tailrace.report.tables import amounts_table, parts_table, recorded_table
from tailrace.scenario.scenario import Scenario
from tailrace.studies.improving.result import Improvement
from tailrace.studies.sweeping import Sweep

PATH_HEAD = (("part", ""), ("kind", ""), ("volume", "uL"), ("residence", "s"))
SOLUTE_HEAD = (("solute", ""), ("retention", "factor"), ("diffusivity", "m^2/s"))


@singledispatch
def html(value: object) -> str:
    """Whatever derives from ``Displayed``, as a piece of a page."""
    raise TypeError(f"no notebook view of {type(value).__name__}")


@html.register
def _handed(value: Handed) -> str:
    """A result that has no view of its own: what its ``repr`` says."""
    return _rendered(repr(value), [])


@html.register
def _result(result: Result) -> str:
    """Conclusion, figure, tables, warnings."""
    from tailrace.figures.peaks import draw_peaks

    worst = worst_first(result)[0]
    tables = [recorded_table(result), amounts_table(result), parts_table(result, worst)]
    picture = None
    if result.parts[-1].band is not None:
        picture = draw_peaks(result, [result.lanes[worst]]).svg()
        # Two outputs share one page: a name within one must not meet that of the other.
        picture = Markup(inlined(picture, f"p{hashlib.sha256(picture).hexdigest()[:10]}-"))
    lines = [
        pressure_line(result.pressure, result.parts),
        *(f"Warning: {text}" for text in result.warnings),
    ]
    return _rendered(conclusion(result), tables, lines=lines, picture=picture)


@html.register
def _itinerary(itinerary: Itinerary) -> str:
    """The solutes and the parts in order."""
    return _rendered("A journey that has not been made yet", _path_tables(itinerary))


@html.register
def _scenario(scenario: Scenario) -> str:
    """Title, solutes and parts, and what it rests on."""
    tables = _path_tables(scenario.itinerary())
    return _rendered(scenario.title, tables, assumptions=scenario.assumptions())


@html.register
def _improvement(study: Improvement) -> str:
    """What came of it, and the steps."""
    return _rendered(verdict(study), [steps_table(study)], lines=[stop_line(study)])


@html.register
def _sweep(study: Sweep) -> str:
    """Its cases, or their extremes."""
    head, *rows = rows_of(study)
    table = Table("Cases", tuple((name, "") for name in head), tuple(map(tuple, rows)))
    return _rendered(study.plan.scenario.title, [table])


def _path_tables(itinerary):
    rows = []
    for part, stream in itinerary.passages:
        volume = float(np.max(part.volume))
        times = np.broadcast_to(part.residence(stream), (len(itinerary.lanes),))
        shown = dict.fromkeys(significant(time) for time in (times.min(), times.max()))
        rows.append(
            (part.name, part.kind, significant(volume / in_unit("m^3", "uL")), " to ".join(shown))
        )
    column = next((pair for pair in itinerary.passages if pair[0].separates), None)
    _, stream = column or itinerary.passages[0]
    numbers = (
        np.broadcast_to(getattr(stream, name), (len(itinerary.lanes),))
        for name in ("retention_factor", "diffusivity")
    )
    solutes = [
        (name, significant(factor), significant(diffusivity))
        for name, factor, diffusivity in zip(itinerary.lanes, *numbers, strict=True)
    ]
    return [
        Table("Solutes", SOLUTE_HEAD, tuple(solutes)),
        Table("Path, in the order of the flow", PATH_HEAD, tuple(rows)),
    ]


def _rendered(title, tables, **more):
    text = resources.files("tailrace.report").joinpath("notebook.html.j2").read_text("utf-8")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    template = environment.from_string(text)
    return template.render(
        {"title": title, "tables": tables, "lines": (), "assumptions": (), "picture": None} | more
    )
