"""Objects as a notebook shows them: tables and a small figure, as a piece of HTML."""

import hashlib
from collections.abc import Callable, Sequence
from functools import singledispatch
from typing import Any

import numpy as np
from markupsafe import Markup

from tailrace.display import Handed
from tailrace.eluent.stream import Stream
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.result import Result
from tailrace.measures.registry import CAPACITY
from tailrace.parts.base import Part
from tailrace.records.separation import worst_first
from tailrace.records.trade import for_people, in_unit
from tailrace.report.improvement.sentences import stop_line, verdict
from tailrace.report.improvement.tables import steps_table
from tailrace.report.numbers import significant
from tailrace.report.paper import inlined, template
from tailrace.report.sentences import conclusion, pressure_line
from tailrace.report.sweep import cases_tables
from tailrace.report.table import Table, tabulated, words
from tailrace.report.tables import amounts_table, parts_table, recorded_table
from tailrace.scenario.scenario import Scenario
from tailrace.studies.improving.result import Improvement
from tailrace.studies.sweeping import Sweep

MICROLITRE = in_unit("m^3", "uL")


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
        drawn = draw_peaks(result, [result.lanes[worst]]).svg()
        # Two outputs share one page: a name within one must not meet that of the other.
        picture = Markup(inlined(drawn, f"p{hashlib.sha256(drawn).hexdigest()[:10]}-"))
    lines = [
        pressure_line(result.pressure, result.parts, CAPACITY in result.recorded),
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
    study = for_people(study)
    return _rendered(verdict(study), [steps_table(study)], lines=[stop_line(study)])


@html.register
def _sweep(study: Sweep) -> str:
    """Its cases, or their extremes."""
    return _rendered(study.plan.scenario.title, cases_tables(study))


def _path_tables(itinerary: Itinerary) -> list[Table]:
    column = next((pair for pair in itinerary.passages if pair[0].separates), None)
    stream = (column or itinerary.passages[0])[1]

    def of(name: str) -> Callable[[Any], str]:
        values = np.broadcast_to(getattr(stream, name), (len(itinerary.lanes),))
        return lambda lane: significant(values[lane])

    solutes = [
        words("solute", lambda lane: itinerary.lanes[lane]),
        words("retention", of("retention_factor"), "factor"),
        words("diffusivity", of("diffusivity"), "m^2/s"),
    ]
    path = [
        words("part", lambda passage: passage[0].name),
        words("kind", lambda passage: passage[0].kind),
        words("volume", lambda passage: significant(np.max(passage[0].volume) / MICROLITRE), "uL"),
        words("residence", _residence, "s"),
    ]
    return [
        tabulated("Solutes", solutes, range(len(itinerary.lanes))),
        tabulated("Path, in the order of the flow", path, itinerary.passages),
    ]


def _residence(passage: tuple[Part, Stream]) -> str:
    """One time, or the least and the greatest where solutes differ."""
    times = np.asarray(passage[0].residence(passage[1]))
    return " to ".join(dict.fromkeys(significant(time) for time in (times.min(), times.max())))


def _rendered(title: str, tables: Sequence[Table], **more: Any) -> str:
    return template("notebook.html.j2").render(
        {"title": title, "tables": tables, "lines": (), "assumptions": (), "picture": None} | more
    )
