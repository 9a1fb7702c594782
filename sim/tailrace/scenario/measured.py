"""The instrument as it was when a signal was measured, and what is wrong with ``[[measured]]``."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass

from pydantic import ValidationError

from tailrace.errors import ScenarioError
from tailrace.measurements.baseline import KINDS
from tailrace.measurements.reading import read_signal
from tailrace.measurements.signal import Signal, SignalError, Wanted
from tailrace.parts import part_class
from tailrace.scenario.changed import Made, document_with, dosed, remade
from tailrace.scenario.contents import Contents
from tailrace.scenario.files import Files
from tailrace.scenario.measured_table import MeasuredTable
from tailrace.scenario.problems import Problem, Tables, unknown
from tailrace.scenario.rules import RESERVED, table, tables

OF_THE_DETECTOR = ("time_constant", "rise_time", "averaged", "moving_average")
POINTS = ("interval", "rate", "sampling_phase")
"""Keys of the detector in place of which the points of the file stand."""
OF_THE_LIQUID = ("kw", "s", "sample_retention_factor")
"""Keys of a solute that say how it goes with the liquid."""
KIND = "a file of a signal that can be read"


@dataclass(frozen=True, kw_only=True)
class MeasuredFile:
    """One row of ``[[measured]]`` and what its files hold.

    ``blank``: of a blank run that is to be taken off.
    """

    row: MeasuredTable
    solute: str
    signal: Signal
    blank: Signal | None


def measured_files(scenario: Contents) -> tuple[MeasuredFile, ...]:
    """Every row of a sound scenario with its signal."""
    return tuple(_file(scenario, row) for row in scenario.document.measured)


def as_measured(scenario: Made, one: MeasuredFile) -> Made:
    """The scenario as it was for one measurement: with one solute, of the same sample however much
    was injected, and as many points a time as are computed: those of the file are read off it.

    Raises ScenarioError where what differs does not go together.
    """
    row = one.row
    own = next(
        entry for _, entry in tables(scenario.tables, "measured") if entry["name"] == row.name
    )
    built = document_with(scenario.tables, row.changes)
    settings: dict[str, Tables] = {
        "method": {key: own[key] for key in ("flow", "temperature") if key in own},
        "injection": {"volume": own["injected_volume"]} if "injected_volume" in own else {},
        "detector": {key: own[key] for key in OF_THE_DETECTOR if key in own},
    }
    new: Tables = dict(own.get("set", {}))
    for key, values in settings.items():
        if values:
            new[key] = {**new.get(key, {}), **values}
    change = {
        "name": row.name,
        "set": new,
        "remove": row.without,
        "replace": own.get("replace", {}),
        "insert": own.get("insert", []),
    }
    built = dict(dosed(scenario.tables, document_with({**built, "changes": [change]}, [row.name])))
    built["solutes"] = [entry for entry in built["solutes"] if entry["name"] == one.solute]
    if not any(part_class(part["part"]).separates for part in built["path"]):
        # nothing retains: what is said of retention has no one to read it
        built.pop("gradient", None)
        injection = built["injection"].items()
        built["injection"] = {key: value for key, value in injection if key != "strong"}
        built["solutes"] = [_unretained(entry) for entry in built["solutes"]]
    _with_points(built, one)
    return remade(scenario, built, "")


def _unretained(solute: Tables) -> Tables:
    remaining = {key: one for key, one in solute.items() if key not in OF_THE_LIQUID}
    return remaining if len(remaining) == len(solute) else {**remaining, "retention_factor": 0.0}


def broken_measured(scenario: Contents) -> list[Problem]:
    """Return what is wrong with ``[[measured]]`` of a scenario that is sound otherwise."""
    found = wrong_names(scenario.tables, scenario.files)
    for index, row in enumerate(scenario.document.measured) if not found else ():
        where = ("measured", index)
        try:
            as_measured(scenario, _file(scenario, row))
        except SignalError as error:
            found.append(Problem((*where, "file"), str(error)))
        except ScenarioError as error:
            found.append(Problem(where, error.problems[0]))
    return found


def _file(scenario: Contents, row: MeasuredTable) -> MeasuredFile:
    blank = None
    if row.baseline not in KINDS:
        blank = _signal(scenario.files, row.baseline, row.wanted)
    return MeasuredFile(
        row=row,
        solute=row.solute or scenario.document.solutes[0].name,
        signal=_signal(scenario.files, row.file, row.wanted),
        blank=blank,
    )


def _signal(files: Files, name: str, wanted: Wanted) -> Signal:
    """Read once; raises SignalError."""
    reason = files.unreadable(name, KIND)
    if reason:
        raise SignalError(reason)
    return files.once((name, wanted), lambda content: read_signal(content, name, wanted))


def _with_points(built: Tables, one: MeasuredFile) -> None:
    detector = dict(table(built, "detector"))
    for key in POINTS:
        detector.pop(key, None)
    if detector.pop("averaged", False):
        times = one.signal.times
        step = float((times[-1] - times[0]) / (times.size - 1))
        detector["moving_average"] = f"{step!r} s"
    if detector:
        built["detector"] = detector
    else:
        built.pop("detector", None)


def wrong_names(document: Tables, files: Files) -> list[Problem]:
    """What is wrong with the names and files of ``[[measured]]``, whatever else is wrong.

    Rows whose values are wrong are passed over.
    """
    rows = dict[int, MeasuredTable]()
    for index, one in tables(document, "measured"):
        with suppress(ValidationError):
            rows[index] = MeasuredTable.model_validate(one)
    return [problem for index in rows for problem in _wrong(document, files, rows, index)]


def _brought(document: Tables, changes: Collection[str]) -> Iterator[str]:
    """Names of the parts that these changes put in, as far as their tables can be read."""
    for _, change in tables(document, "changes"):
        if change.get("name") in changes:
            inserted, replaced = change.get("insert"), change.get("replace")
            new = list(inserted) if isinstance(inserted, list) else []
            new += replaced.values() if isinstance(replaced, dict) else []
            yield from (str(one["name"]) for one in new if isinstance(one, dict) and "name" in one)


def _wrong(
    document: Tables, files: Files, rows: Mapping[int, MeasuredTable], index: int
) -> Iterator[Problem]:
    row, where = rows[index], ("measured", index)
    names = [one.name for one in rows.values()]
    parts, solutes, changes = (
        [str(one.get("name")) for _, one in tables(document, key)]
        for key in ("path", "solutes", "changes")
    )
    parts += _brought(document, row.changes)
    if row.name in [one.name for at, one in rows.items() if at < index]:
        yield Problem(
            (*where, "name"), f'expected a name of its own, found "{row.name}" again; rename it'
        )
    if row.solute is None and len(solutes) > 1:
        yield Problem(
            (*where, "solute"),
            f"expected one of {', '.join(solutes)}, found none; say which was injected",
        )
    if row.rate is not None and row.interval is not None:
        yield Problem(
            (*where, "rate"), "expected either interval or rate, found both; leave out one"
        )
    if row.window is not None and row.window[0] >= row.window[1]:
        yield Problem(
            (*where, "window"), "expected a start before an end, found others; exchange them"
        )
    for key, name in (("file", row.file), ("baseline", row.baseline)):
        reason = "" if name in KINDS and key == "baseline" else files.unreadable(name, KIND)
        if reason:
            yield Problem((*where, key), reason)
    asked: dict[str, tuple[Iterable[str], list[str]]] = {
        "solute": ([row.solute] if row.solute else [], solutes),
        "same_as": ([row.same_as] if row.same_as else [], names),
        "changes": (row.changes, changes),
        "without": (row.without, parts),
        "set": (list(row.set), [*parts, *RESERVED]),
        "replace": (list(row.replace), parts),
    }
    for key, (given, known) in asked.items():
        for name in given:
            if name not in known:
                yield Problem((*where, key), unknown("name", name, known))
