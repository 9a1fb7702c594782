"""A scenario as it is after some of its changes, or with other values."""

import hashlib
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from pydantic import ValidationError

from tailrace.errors import QuantityError, ScenarioError
from tailrace.parts import part_class
from tailrace.quantities.parse import parse
from tailrace.scenario.build import (
    retention_ratios,
    temperatures,
    unsupported,
)
from tailrace.scenario.contents import Contents
from tailrace.scenario.model import LIQUID_NAMES, Document, EluentTable, MethodTable
from tailrace.scenario.problems import Place, Problem, Tables, problems_of, unknown, without_echoes
from tailrace.scenario.rules import EITHER_OR, RESERVED, broken_rules, separates, table, tables
from tailrace.scenario.timed import with_retention
from tailrace.scenario.toml import as_toml

TWO_OF = ("volume", "length", "bore")
"""Sizes of which two say the third; where a new one is set, the first of the old ones goes."""
OF_THE_START = (
    *("columns", "changes", "uncertain", "correlated", "accept", "reading", "drift"),
    *("retest", "measured", "page"),
)
"""Tables that speak of the instrument as it is, by names that a change may have taken away."""
FIXED = ("name", "part", "shape", "heater", "needs_temperature_control")
"""Keys that neither a change nor a study gives another value."""

OF_RETENTION = {"retention_factor", "kw", "sample_retention_factor"}
"""Keys of a solute that go with temperature."""
STATED = {"temperature": "stated_temperature", "flow": "stated_flow"}
"""Keys of the method with those that say where what is stated holds."""

Made = TypeVar("Made", bound=Contents)


def changed(scenario: Made, names: Iterable[str]) -> Made:
    """Return the scenario after some of its changes, checked as strictly as a file.

    Whatever they need has to be among the names; what is returned has no changes of its own. Raises
    ScenarioError for a name that is not known; for changes that need another or exclude each other;
    for what does not go together after them.
    """
    names = tuple(names)
    known = [one["name"] for _, one in tables(scenario.tables, "changes")]
    for name in names:
        if name not in known:
            raise ScenarioError([unknown("change", name, known)])
    label = f"with {', '.join(name for name in known if name in names)}" if names else ""
    reason = missing_or_excluded(scenario.tables, names)
    if reason:
        raise ScenarioError([f"{label}: {reason}"])
    document = document_with(scenario.tables, names)
    return remade(scenario, dosed(scenario.tables, document), label)


def dosed(before: Tables, after: Tables) -> Tables:
    """Tables after a change whose amounts go with the injected volume: the sample is the same."""
    share = injected_share(before, after)
    if share == 1 or not any("amount" in one for _, one in tables(after, "solutes")):
        return after
    solutes = [
        one | {"amount": f"{parse(one['amount'], 'amount') * share:.12g} mol"}
        if "amount" in one
        else one
        for one in after["solutes"]
    ]
    return {**after, "solutes": solutes}


def injected_share(before: Tables, after: Tables) -> float:
    """How much is injected after a change over what was before it; 1 where that is not known."""
    was, now = (table(one, "injection").get("volume") for one in (before, after))
    try:
        return parse(now, "volume") / parse(was, "volume")
    except QuantityError:
        return 1.0


def remade(scenario: Made, document: Tables, label: str) -> Made:
    """Return the scenario with other tables, those of ``OF_THE_START`` left out, checked as a file.

    Raises ScenarioError with the first thing that does not go together, and the label (``with small
    cell``) before.
    """
    problems: list[Problem] = []
    try:
        model = Document.model_validate(document)
    except ValidationError as error:
        problems = problems_of(error, document)
    problems += without_echoes(list(broken_rules(document)), problems)
    if not problems:
        reason = missing_curve(document, scenario)
        problems = [Problem(("injection", "file"), reason)] if reason else []
    if not problems:
        text = as_toml(document)
        built = replace(
            scenario,
            document=model,
            tables=document,
            text=text,
            sha256=hashlib.sha256(text.encode()).hexdigest(),
        )
        problems = unsupported(built)
    if not problems:
        built, problems = with_retention(built)
    if problems:
        first = problems[0]
        raise ScenarioError(
            [f"{label}: {first.key}: {first.sentence}" if label else first.sentence]
        )
    return built


def on_column(scenario: Made, column: Tables) -> Made:
    """Return the scenario with one of its ``[[columns]]``, which keeps its changes and uncertainty.

    Raises ScenarioError for what does not go together with it.
    """
    document, label = document_on(scenario.tables, column), f"with {column['name']}"
    built = remade(scenario, document, label)
    found = _found_there(built, document, column)
    return remade(scenario, found, label) if found else built


def _found_there(built: Contents, document: Tables, column: Tables) -> Tables | None:
    """The document with those k that ``set`` gives as they are at the temperature where others were
    stated: they were found on this column, as warm as it is. None where nothing moves."""
    model, new = built.document, table(column, "set")
    oven = next((one for one in model.path if part_class(one.part).separates), None)
    if oven is None:
        return None
    ratios = retention_ratios(model, *temperatures(oven, model.method))
    solutes = list(document["solutes"])
    for index, (one, ratio) in enumerate(zip(solutes, ratios, strict=True)):
        given = OF_RETENTION & set(table(new, one["name"]))
        solutes[index] = one | {key: float(one[key] / ratio) for key in given}
    return None if solutes == document["solutes"] else {**document, "solutes": solutes}


def on_columns(scenario: Made) -> dict[str, Made]:
    """The scenario with each of its ``[[columns]]``, by their names; empty where it has none."""
    return {one["name"]: on_column(scenario, one) for _, one in tables(scenario.tables, "columns")}


def missing_curve(document: Tables, scenario: Contents) -> str:
    """Say why the file of an injected signal cannot be read; empty where it can, or is none."""
    name = table(document, "injection").get("file")
    return scenario.files.unreadable(name, "a CSV file that can be read") if name else ""


def with_values(document: Tables, values: Mapping[Place, Any]) -> Tables:
    """Return tables with other values at some places, each as the file would hold it.

    They share what stays as it is with the old ones.
    """
    built = dict(document)
    new: dict[Place, Tables] = {}
    for (*place, key), value in values.items():
        new.setdefault(tuple(place), {})[str(key)] = value
        if place == ["method", "eluent"] and key in LIQUID_NAMES:
            method = table(document, "method")
            eluent = EluentTable.model_validate(method["eluent"])
            new[tuple(place)] = eluent.with_share(str(key), float(value)) | new[tuple(place)]
            strong = method.get("stated_strong", 1 - eluent.water)
            new.setdefault(("method",), {})["stated_strong"] = strong
    for above, more in new.items():
        holder: Any = built
        step: Any
        for step in above[:-1]:
            inner = holder[step] if isinstance(holder, list) else holder.get(step, {})
            holder[step] = inner.copy()
            holder = holder[step]
        step = above[-1]
        old = holder[step] if isinstance(holder, list) else holder.get(step, {})
        holder[step] = merged(old, more)
    return held(document, built)


def held(before: Tables, after: Tables) -> Tables:
    """Tables after a change, which say where it stands what was stated before it.

    Retention, diffusivities, a given viscosity and plates hold at temperature and flow of the file;
    where these are given others, the former ones stay as ``stated_temperature``, ``stated_flow``.
    """
    old, new = table(before, "method"), table(after, "method")
    usual = {"temperature": MethodTable.model_fields["temperature"].default}
    was, now = usual | old, usual | new
    missing = {
        stated: was[key]
        for key, stated in STATED.items()
        if stated not in new and key in was and was[key] != now.get(key)
    }
    built = {**after, "method": new | missing} if missing else after
    earlier = {str(part.get("name")): part for _, part in tables(before, "path")}
    beds = [part for part in earlier.values() if separates(part)]
    for index, part in tables(after, "path"):
        # a column of another name stands in for the only one
        one = earlier.get(str(part.get("name")), beds[0] if len(beds) == 1 else part)
        if part.get("temperature") == one.get("temperature") or STATED["temperature"] in part:
            continue
        if separates(part):
            stated = one.get("temperature", was.get(STATED["temperature"], was["temperature"]))
            built = {**built, "path": list(built["path"])}
            built["path"][index] = {**part, STATED["temperature"]: stated}
    return built


def missing_or_excluded(document: Tables, names: Collection[str]) -> str:
    """Say why changes of a sound document cannot be made together; empty where they can."""
    for _, change in tables(document, "changes"):
        if change["name"] not in names:
            continue
        for need in change.get("needs", []):
            if need not in names:
                return f'"{change["name"]}" needs "{need}"; take it too'
        for other in change.get("excludes", []):
            if other in names:
                return f'"{change["name"]}" and "{other}" exclude each other; leave out one'
    return ""


def excluded(document: Tables) -> set[frozenset[str]]:
    """Return the pairs of names that exclude each other, whichever of the two says it."""
    return {
        frozenset((change["name"], other))
        for _, change in tables(document, "changes")
        for other in change.get("excludes", [])
    }


def with_needs(document: Tables, names: Collection[object]) -> tuple[str, ...]:
    """Return changes and all that they need, in an order in which they can be made.

    Names that are not known are passed over.
    """
    needs: dict[str, list[str]] = {
        one["name"]: [need for need in _list(one, "needs") if isinstance(need, str)]
        for _, one in tables(document, "changes")
        if isinstance(one.get("name"), str)
    }
    ordered: list[str] = []
    seen: set[str] = set()

    def visit(name: str) -> None:
        if name in needs and name not in seen:
            seen.add(name)
            for need in needs[name]:
                visit(need)
            ordered.append(name)

    for name in needs:
        if name in names:
            visit(name)
    return tuple(ordered)


def document_with(document: Tables, names: Collection[str]) -> Tables:
    """Return the document after some of its changes; what cannot be followed is passed over.

    It shares what stays as it is with the old one.
    """
    built = {key: value for key, value in document.items() if key not in OF_THE_START}
    changes = {one.get("name"): one for _, one in tables(document, "changes")}
    slots = [_Slot(one.get("name"), one) for _, one in tables(document, "path")]
    for name in with_needs(document, names):
        if name in names:
            _make(changes[name], slots, built)
    if slots:
        built["path"] = [slot.part for slot in slots if slot.part is not None]
    return held(document, built)


def document_on(document: Tables, column: Tables) -> Tables:
    """The document with one of its ``[[columns]]``; changes and uncertainty stay as they are.

    Plates hold at the flow with which the column is run, diffusivities where the file states them.
    """
    aside = ("columns", "measured", "accept")
    built = {key: value for key, value in document.items() if key not in aside}
    new = table(column, "set")
    parts = [one.get("name") for _, one in tables(document, "path")]
    for key in ("path", "solutes"):
        built[key] = [
            _with_own_plates(one, table(new, name))
            if isinstance(name := one.get("name"), str) and (key == "path" or name not in parts)
            else one
            for _, one in tables(document, key)
        ]
    built |= {
        name: merged(table(built, name), table(new, name)) for name in RESERVED if name in new
    }
    built, method = held(document, built), table(new, "method")
    if "flow" in method and STATED["flow"] not in method:
        left = {key: one for key, one in table(built, "method").items() if key != STATED["flow"]}
        built = {**built, "method": left}
    return built


def _with_own_plates(one: Tables, new: Tables) -> Tables:
    """A part or solute with what is set; new plates do not hold at the flow of the former."""
    old = dict(one)
    if "plates" in new:
        old.pop("plates_flow", None)
    return merged(old, new)


def heaters(document: Tables) -> int:
    """How many parts of the path heat what passes. int, 1."""
    return sum(part.get("heater") is True for _, part in tables(document, "path"))


@dataclass
class _Slot:
    """A place on the path: what it was called at first, and what is there now (None: nothing)."""

    name: object
    part: Tables | None


def _make(change: Tables, slots: list[_Slot], built: Tables) -> None:
    for name, new in table(change, "set").items():
        if not isinstance(new, dict):
            continue
        slot = _at(slots, name)
        if name in RESERVED:
            built[name] = merged(table(built, name), new)
        elif slot and slot.part:
            slot.part = merged(slot.part, new)
    for name, new in table(change, "replace").items():
        slot = _at(slots, name)
        if slot and slot.part and isinstance(new, dict):
            slot.part = {"name": name} | new
    for name in _list(change, "remove"):
        slot = _at(slots, name)
        if slot:
            slot.part = None
    for new in _list(change, "insert"):
        if isinstance(new, dict):
            _insert(new, slots)


def _insert(new: Tables, slots: list[_Slot]) -> None:
    part = {key: value for key, value in new.items() if key not in ("after", "before")}
    anchor = _at(slots, new.get("after", new.get("before")))
    # Two changes that put in the same part put it in once.
    if anchor and not any(slot.part == part for slot in slots):
        place = next(index for index, slot in enumerate(slots) if slot is anchor)
        slots.insert(place + ("after" in new), _Slot(part.get("name"), part))


def _at(slots: list[_Slot], name: object) -> _Slot | None:
    """The place that has this name now, else the one that had it at first; None for neither."""
    now = [slot for slot in slots if slot.part and slot.part.get("name") == name]
    return next(iter(now + [slot for slot in slots if slot.name == name]), None)


def merged(values: Tables, new: Tables) -> Tables:
    """Return a table with new values put over its own, both as they are written in the file.

    Where a new key excludes an old one (``rise_time`` and ``time_constant``), the old one goes.
    """
    dropped = {
        other for pair in EITHER_OR for key in pair if key in new for other in pair if other != key
    }
    built = {key: value for key, value in values.items() if key not in dropped} | new
    if set(TWO_OF) <= set(built):
        old = [key for key in TWO_OF if key not in new]
        built = {key: value for key, value in built.items() if key not in old[:1]}
    return built


def _list(values: Tables, key: str) -> list[Any]:
    found = values.get(key)
    return found if isinstance(found, list) else []
