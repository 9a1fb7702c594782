"""From times as recorded to what parts and solutes are made of: dead time and retention times."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from tailrace.parts import KINDS, part_class
from tailrace.parts.base import Passages
from tailrace.parts.column.part import Column
from tailrace.parts.column.table import ColumnTable
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.kinds import plain, show
from tailrace.scenario.build import (
    MOST_FACTOR,
    Made,
    itinerary,
    part_of,
    retention_ratios,
    stream,
    temperatures,
)
from tailrace.scenario.contents import Contents
from tailrace.scenario.model import Document
from tailrace.scenario.problems import Problem
from tailrace.scenario.read import tables_of

MOST_ROUNDS = 60


def _with_porosity(scenario: Made) -> tuple[Made, list[Problem]]:
    """The scenario with the porosity that a dead time leaves the bed, by mean times."""
    timed = [
        (index, one.dead_time)
        for index, one in enumerate(scenario.document.path)
        if isinstance(one, ColumnTable) and one.dead_time is not None
    ]
    for index, time in timed:
        one = scenario.document.path[index]
        part = part_of(one, scenario.document.method)
        assert isinstance(part, Column)
        here = stream(scenario, one.temperature or scenario.document.method.temperature)
        bed, usual = float(np.max(part.dead_time(here))), float(np.max(part.total_porosity))
        unretained = dead_times(scenario)[1][0]
        porosity = usual * (1 + (time - unretained) / bed)
        low, high = float(np.max(part.external_porosity)), part.most_porosity
        if not low < porosity < high:
            ends = [show(unretained + bed * (end / usual - 1), "duration") for end in (low, high)]
            sentence = (
                f"expected a time between {' and '.join(ends)}, since the bed's porosity lies "
                f"between {low:g} and {high:.3g}, found {show(time, 'duration')}; correct it, or "
                "the sizes of the path"
            )
            return scenario, [Problem(("path", index, "dead_time"), sentence)]
        path = list(scenario.tables["path"])
        remaining = {key: value for key, value in path[index].items() if key != "dead_time"}
        path[index] = remaining | {"porosity": float(porosity)}
        tables = {**scenario.tables, "path": path}
        scenario = replace(scenario, tables=tables, document=Document.model_validate(tables))
    return scenario, []


def with_retention(scenario: Made) -> tuple[Made, list[Problem]]:
    """The scenario with a porosity for a dead time and a retention factor for each retention time,
    which go with all that is done to the instrument later; and the times that are none on it.

    k = (retention time - time without retention) / dead time of the bed, by mean times.
    """
    scenario, problems = _with_porosity(scenario)
    if problems:
        return scenario, problems
    timed = {
        index: one.retention_time
        for index, one in enumerate(scenario.document.solutes)
        if one.retention_time is not None
    }
    if not timed:
        return scenario, []
    dead, unretained = dead_times(scenario)
    document = scenario.document
    column = next(one for one in document.path if part_class(one.part).separates)
    ratios = retention_ratios(document, *temperatures(column, document.method))
    solutes = list(scenario.tables["solutes"])
    for index, time in timed.items():
        factor = (time - unretained[index]) / dead[index] / ratios[index]
        if not 0 <= factor <= MOST_FACTOR:
            problems.append(
                Problem(
                    ("solutes", index, "retention_time"),
                    "expected a time from "
                    f"{show(unretained[index], 'duration')}, when an unretained solute is "
                    f"recorded on this path, found {show(time, 'duration')}; correct it, or "
                    "the porosity of the column",
                )
            )
        solutes[index] = {
            key: value for key, value in solutes[index].items() if key != "retention_time"
        } | {"retention_factor": float(factor)}
    if problems:
        return scenario, problems
    tables = _retained(scenario, solutes)
    return _with_solvent(tables, timed, dead * ratios), []


def _with_solvent(scenario: Made, timed: Mapping[int, float], unit: FloatArray) -> Made:
    """The same where the solvent of the sample changes the time, too.

    ``timed``: times by solute, s; ``unit``: about how much later for k one more, (lanes,) array, s.
    """
    for _ in range(MOST_ROUNDS):
        passages = itinerary(scenario).passages
        if not any(part.focuses for part, _ in passages):
            break
        mean, solutes = _mean(passages), list(scenario.tables["solutes"])
        if all(abs(time - mean[index]) <= 1e-9 * time for index, time in timed.items()):
            break
        for index, time in timed.items():
            factor = solutes[index]["retention_factor"] + (time - mean[index]) / unit[index]
            solutes[index] = solutes[index] | {"retention_factor": float(max(factor, 0.0))}
        scenario = _retained(scenario, solutes)
    return scenario


def _retained(scenario: Made, solutes: list[Any]) -> Made:
    tables = {**scenario.tables, "solutes": list(solutes)}
    return replace(scenario, tables=tables, document=Document.model_validate(tables))


def _mean(passages: Passages) -> FloatArray:
    """Mean time at which each solute is recorded, (lanes,) array, s."""
    mean = np.zeros(passages[0][1].lanes)
    for part, liquid in passages:
        if not part.behind:
            straight = part.met_at(mean, liquid).bent_on(np.inf)  # a bend delays nothing
            mean = mean + KINDS[part.kind].theory(straight, liquid).mean
    return mean


def dead_times(scenario: Contents) -> tuple[FloatArray, FloatArray]:
    """Dead time of the bed, and mean time at which an unretained solute is recorded.

    Two (lanes,) arrays, s. Parts behind the recording do not count.
    """
    bed, outside = (np.zeros(len(scenario.document.solutes)) for _ in range(2))
    for part, liquid in itinerary(scenario).passages:
        if part.behind:
            continue
        if isinstance(part, Column):
            bed, outside = bed + part.dead_time(liquid), outside + 2 * part.head_time(liquid)
        else:
            outside = outside + KINDS[part.kind].theory(part.bent_on(np.inf), liquid).mean
    return bed, bed + outside


def from_times(scenario: Contents) -> Iterator[str]:
    """What follows from times as recorded, and when an unretained solute would be, in sentences."""
    yield from _retention(scenario)
    yield from _unretained(scenario)


def _retention(scenario: Contents) -> Iterator[str]:
    """The dead time with which retention times were read, and the porosity from one."""
    text = tables_of(scenario.path, scenario.text)
    for index, one in enumerate(text.get("path", [])):
        if "dead_time" in one:
            in_beds = show(float(dead_times(scenario)[0][0]), "duration")
            yield (
                f"{one['name']}: porosity {scenario.tables['path'][index]['porosity']:.4g} from "
                f"the dead time {one['dead_time']} as recorded, of which {in_beds} in the bed"
            )
    written = text.get("solutes", [])
    for index, one in enumerate(written):
        if "retention_time" not in one:
            continue
        dead, unretained = (float(times[index]) for times in dead_times(scenario))
        factor = scenario.document.solutes[index].retention_factor
        yield (
            f"{one['name']}: retention factor {factor:.4g} from the retention time "
            f"{one['retention_time']}, with a dead time of the bed of {_both(dead)} and "
            f"an unretained solute recorded at {_both(unretained)} on this path; taken "
            "as the mean time of the peak"
        )


def _unretained(scenario: Contents) -> Iterator[str]:
    """When an unretained solute would be recorded where a porosity is the usual one."""
    parts = [part for part, _ in itinerary(scenario).passages if not part.behind]
    columns = [part for part in parts if isinstance(part, Column)]
    if not any(np.isnan(one.porosity).all() for one in columns):
        return
    dead, unretained = (float(times[0]) for times in dead_times(scenario))
    outside = show(unretained - dead, "duration")
    line = (
        f"{', '.join(one.name for one in columns)}: an unretained solute would be recorded at "
        f"{_both(unretained)} (t0), of which {show(dead, 'duration')} in the bed"
    )
    if len(columns) == 1:
        porosity = float(np.max(columns[0].total_porosity))
        line += (
            f"; where another t0 is measured: porosity = {porosity:.3g} (t0 - {outside}) / "
            f"{show(dead, 'duration')}"
        )
        if any(one.retention_factor for one in scenario.document.solutes):
            line += f", retention_factor = (retention time - t0) / (t0 - {outside})"
    yield line


def _both(time: float) -> str:
    """A time in seconds and in minutes."""
    return f"{show(time, 'duration')} = {plain(time / 60, 4)} min"
