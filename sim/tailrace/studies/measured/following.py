"""Steps of a plan that were made, by what was measured after each: whether it brought what it
should, what to look for where it did not, and the instrument as it is now."""

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from tailrace.display import Handed
from tailrace.errors import AccuracyError, BudgetError, PartError
from tailrace.measurements.signal import SignalError
from tailrace.measures.registry import APEX, WIDTH
from tailrace.quantities.described import described
from tailrace.scenario.changed import document_with, excluded, with_values
from tailrace.scenario.problems import Place, Tables
from tailrace.scenario.rules import tables as rows_of
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError, called, target
from tailrace.scenario.toml import as_toml
from tailrace.studies.improving.result import Improvement, Step
from tailrace.studies.measured.comparing import compare
from tailrace.studies.measured.diagnosing import diagnose
from tailrace.studies.measured.diagnosis import ELSE, NONE, Hypothesis
from tailrace.studies.measured.faults import with_joints
from tailrace.studies.measured.fitting import answer as fitted
from tailrace.studies.measured.fitting import planned
from tailrace.studies.measured.result import AGREES, Comparison
from tailrace.studies.measured.writing import fitted_tables
from tailrace.studies.runner import Runner

BROUGHT, SHORT, UNDECIDED = "brought", "did not", "cannot say"
REACH = 4.0
"""Widths at half height on either side of a maximum that a window holds where there is room."""
ASIDE = ("columns", "accept", "reading", "measured")
"""Tables of a plan that do not go with the instrument on its way."""


@dataclass(frozen=True, kw_only=True)
class Made:
    """A step that was made, or the start, and what was measured then."""

    number: int = described("number of changes made by then; 0: the start")
    changes: tuple[str, ...] = described("changes made since the step before", "")
    measured: tuple[str, ...] = described("its measurements", "")
    verdict: str = described("brought, did not (what it should) or cannot say", "")
    untold: str = described("why no fault was looked for; empty: it was, or no need", "")


@dataclass(frozen=True, kw_only=True)
class Found(Hypothesis):
    """What may be at fault since a step; ``number``: of the step."""

    number: int = described("number of changes made by then")


@dataclass(frozen=True, kw_only=True)
class Followed(Handed):
    """What measurements say of the steps that were made."""

    title: str = described("title of the scenario", "")
    steps: tuple[Made, ...] = described("from the first that was measured", along=("step",))
    measured: dict[str, Comparison] = described(
        "each measurement beside what was to be expected from those before"
    )
    found: tuple[Found, ...] = described(
        "what to look for, the most probable before", along=("hypothesis",)
    )
    left: tuple[str, ...] = described("changes that can still be made", "", along=("change",))
    text: str = described("the scenario of the instrument as it is now", "")
    source: object = field(default=None, repr=False, compare=False)

    def of(self, step: Made) -> tuple[Found, ...]:
        """What to look for since a step."""
        return tuple(one for one in self.found if one.number == step.number)

    @property
    def now(self) -> Scenario:
        """The instrument as it is now, with what can still be done; no data files are named."""
        given = self.source
        assert isinstance(given, Scenario)
        used = {one.file for one in self.measured.values()}
        files = {name: one for name, one in given.files.contents().items() if name not in used}
        return _scenario(given, tomllib.loads(self.text), files)


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Steps that have not been looked at yet."""

    scenario: Scenario
    groups: tuple[tuple[tuple[str, ...], tuple[Tables, ...]], ...]

    @property
    def question(self) -> dict[str, object]:
        """What must not change."""
        files = self.scenario.files.hashes()
        return {"scenario_sha256": self.scenario.sha256, "files": files}


def plan(scenario: Scenario) -> Plan:
    """Sort the rows of ``[[measured]]`` by the changes that were made before.

    Raises StudyError where there are none, where one has not all changes of those before, or where
    there are several columns.
    """
    if "columns" in scenario.tables:
        raise StudyError(
            "--measured: expected one column, found [[columns]]; make a scenario with the one that "
            "was measured"
        )
    groups: dict[frozenset[str], list[Tables]] = {}
    for _, row in rows_of(scenario.tables, "measured"):
        groups.setdefault(frozenset(row.get("changes", [])), []).append(row)
    order = sorted(groups, key=len)
    if not order:
        raise StudyError(
            f"{scenario.path}: expected measured signals, found no [[measured]]; add name and file "
            "below [[measured]], and changes, those made before"
        )
    for one, other in pairwise(order):
        if not one < other:
            raise StudyError(
                f"--measured: expected each measurement after the same changes as those before and "
                f"further ones, found {groups[other][0]['name']!r} without "
                f"{', '.join(sorted(one - other))}; name all changes made by then"
            )
    names = [row["name"] for _, row in rows_of(scenario.tables, "changes")]
    return Plan(
        scenario=scenario,
        groups=tuple(
            (tuple(name for name in names if name in one), tuple(groups[one])) for one in order
        ),
    )


def answer(plan: Plan, runner: Runner | None = None) -> Followed:
    """Judge each step by what was expected after the measurements before it.

    Raises ScenarioError where what is left does not go together; SignalError, BudgetError or
    AccuracyError as of ``compare``.
    """
    given, engine = plan.scenario, (runner or Runner()).engine
    state = {key: one for key, one in given.tables.items() if key not in ASIDE}
    stated = {row["field"]: row for row in state.get("uncertain", [])}
    done: tuple[str, ...] = ()
    steps, measured, found = list[Made](), dict[str, Comparison](), list[Found]()
    for names, rows in plan.groups:
        new = tuple(name for name in names if name not in done)
        state, done = _after(state, new, stated), names
        scenario = _scenario(given, {**state, "measured": _rows(rows)})
        compared = compare(scenario, runner=Runner(engine=engine))
        measured |= compared.measured
        verdict, free, untold = _verdict(compared.measured), list[str](), ""
        if verdict == SHORT:
            try:
                hypotheses = [
                    one for one in diagnose(scenario, runner).alike if one.name not in (NONE, ELSE)
                ]
            except (AccuracyError, BudgetError, PartError, SignalError) as error:
                hypotheses, untold = [], str(error)
            found += [Found(**vars(one), number=len(names)) for one in hypotheses]
            if hypotheses:
                state, free = _with_fault(scenario, state, hypotheses[0])
        steps.append(
            Made(
                number=len(names),
                changes=new,
                measured=tuple(row["name"] for row in rows),
                verdict=verdict,
                untold=untold,
            )
        )
        state = _known(given, state, rows, free, engine)
    return Followed(
        title=given.title,
        steps=tuple(steps),
        measured=measured,
        found=tuple(found),
        left=tuple(row["name"] for row in state.get("changes", [])),
        text=as_toml(state),
        source=given,
    )


def _verdict(measured: dict[str, Comparison]) -> str:
    if not all(one.agrees for one in measured.values()):
        return SHORT
    seen = [one.verdict(WIDTH) for one in measured.values()]
    return BROUGHT if AGREES in seen else UNDECIDED


def _scenario(
    given: Scenario, tables: Tables, files: Mapping[str, bytes] | None = None
) -> Scenario:
    return Scenario.from_tables(
        tables,
        given.path.parent,
        name=given.path.name,
        files=given.files.contents() if files is None else files,
    )


def _rows(rows: Sequence[Tables]) -> list[Tables]:
    """Rows of one step, its changes being made already."""
    names = [row["name"] for row in rows]
    found = []
    for row in rows:
        row = {key: one for key, one in row.items() if key != "changes"}
        if row.get("same_as") not in (None, *names):
            del row["same_as"]
        found.append(row)
    return found


def _at(tables: Tables, place: Place) -> Any:
    found: Any = tables
    for key in place:
        found = found.get(key) if isinstance(found, dict) else found[key]
    return found


def _after(tables: Tables, names: Sequence[str], stated: dict[str, Tables]) -> Tables:
    """Tables with changes made, which go; those that they exclude or make impossible go, too.

    A number that a change sets is known as the file says (``stated``), and no more as the old one
    was measured.
    """
    built = document_with(tables, names)
    pairs = excluded(tables)
    left = [
        row
        for row in tables.get("changes", [])
        if row["name"] not in names
        and not any(frozenset((row["name"], name)) in pairs for name in names)
    ]
    known = {row["name"] for row in left}
    while lost := [row for row in left if set(row.get("needs", [])) - known - set(names)]:
        left = [row for row in left if row not in lost]
        known = {row["name"] for row in left}
    for key, rows in (("uncertain", tables.get("uncertain", [])), ("correlated", [])):
        built[key] = rows
    remaining, new = [], set()
    for row in tables.get("uncertain", []):
        try:
            before, now = (target(one, row["field"]).place for one in (tables, built))
        except StudyError:
            continue
        if _at(tables, before) != _at(built, now):
            new.add(row["field"])
            row = stated.get(row["field"], row)
        remaining.append(row)
    here = {row["field"] for row in remaining} - new
    built |= {
        "changes": [_relative(row, known) for row in left],
        "uncertain": remaining,
        "correlated": [row for row in tables.get("correlated", []) if set(row["fields"]) <= here],
    }
    return {key: one for key, one in built.items() if one != []}


def _relative(row: Tables, known: set[str]) -> Tables:
    """A change that speaks of those alone that can still be made."""
    return {
        key: [name for name in one if name in known] if key in ("needs", "excludes") else one
        for key, one in row.items()
    }


def _with_fault(scenario: Scenario, state: Tables, first: Hypothesis) -> tuple[Tables, list[str]]:
    """Tables with what is at fault, and its fields; a joint that they do not name is put in."""
    whole, joints = with_joints(scenario)
    tables, values = dict(state), dict[Place, Any]()
    path = list(state["path"])
    for name in first.fields:
        place = called(whole.tables, name).place
        if place[0] != "path":
            tables[str(place[0])] = whole.tables[str(place[0])]
            continue
        row = whole.tables["path"][place[1]]
        at = next((k for k, one in enumerate(path) if one["name"] == row["name"]), None)
        if at is not None:
            path[at] = row
        else:
            behind = joints[row["name"]][1]
            path.insert(next(k for k, one in enumerate(path) if one["name"] == behind), row)
    tables |= {
        "path": path,
        "uncertain": [
            row for row in state.get("uncertain", []) if row["field"] not in first.fields
        ],
        "correlated": [
            row for row in state.get("correlated", []) if not set(row["fields"]) & {*first.fields}
        ],
    }
    for name, value, unit in zip(first.fields, first.values, first.units, strict=True):
        values[called(tables, name).place] = float(value) if unit == "1" else f"{value!r} {unit}"
    return with_values(tables, values), list(first.fields)


def _known(
    given: Scenario, state: Tables, rows: Sequence[Tables], free: Sequence[str], engine: str
) -> Tables:
    """Tables with what these signals say of all that is uncertain, and of what is at fault."""
    names = {row["field"] for row in state.get("uncertain", [])} - set(free)
    if not names and not free:
        return state
    scenario = _scenario(given, {**state, "measured": _rows(rows)})
    sound = planned(scenario, free)
    if not sound.problem.parameters:
        return state
    study = fitted(sound, Runner(engine=engine))
    return fitted_tables(state, study, study.parameters)


HEAD = (
    "# To be taken back: keep each signal under the file that its rows name, take the # off these\n"
    "# rows (and off those of the steps before), and ask\n"
    "#     tailrace improve measured.toml --measured\n"
    "# Where a peak does not lie in the window that is given here, write the one that it lies in.\n"
)


def to_fill_in(improvement: Improvement) -> str:
    """The scenario with rows of ``[[measured]]`` for each step of a plan: remarks until their
    signals are there."""
    tables = {key: one for key, one in improvement.scenario.tables.items() if key != "measured"}
    rows = (row for step in improvement.steps for row in _planned(improvement, step))
    text = as_toml({"measured": list(rows)}).rstrip("\n").splitlines()
    remarks = "\n".join(f"# {line}" if line else "" for line in text)
    return f"{as_toml(tables)}\n{HEAD}\n{remarks}\n"


def _planned(improvement: Improvement, step: Step) -> Iterator[Tables]:
    """A row for each solute that the plan looks at."""
    table = improvement.combinations
    wanted = {name for one in improvement.steps for name in one.of.split("/")}
    apex, width = (table.recorded[name][step.combination] for name in (APEX, WIDTH))
    for lane, solute in enumerate(table.solutes):
        if solute not in wanted:
            continue
        row: Tables = {
            "name": f"step {step.number}: {step.change or 'as it is'}, {solute}"[:80],
            "file": f"step-{step.number}.csv",
            "solute": solute,
            "changes": list(step.taken),
        }
        if len(table.solutes) > 1:
            at, reach = float(apex[lane]), REACH * float(width[lane])
            middles = [(at + float(one)) / 2 for other, one in enumerate(apex) if other != lane]
            low = max([at - reach, *(one for one in middles if one < at)])
            high = min([at + reach, *(one for one in middles if one > at)])
            row["window"] = [f"{max(low, 0.0):.4g} s", f"{high:.4g} s"]
        yield row
