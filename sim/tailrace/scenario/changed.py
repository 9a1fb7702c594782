"""A scenario as it is after some of its changes."""

import tomllib
from dataclasses import dataclass, replace

from pydantic import ValidationError

from tailrace.errors import ScenarioError
from tailrace.scenario.curve import read_curve
from tailrace.scenario.model import Document
from tailrace.scenario.problems import problems_of, unknown, without_echoes
from tailrace.scenario.rules import RESERVED, broken_rules, table, tables

EITHER_OR = (("time_constant", "rise_time"),)
"""Keys of which one excludes the other."""
OF_THE_START = ("changes", "uncertain", "correlated", "accept")
"""Tables that speak of the instrument as it is, by names that a change may have taken away."""


def changed(scenario, names):
    """Return the scenario after some of its changes, checked as strictly as a file.

    Parameters
    ----------
    scenario : Scenario
    names : iterable of str
        Of changes, in any order; whatever they need has to be among them.

    Returns
    -------
    Scenario
        Its document has no changes of its own; ``text`` and ``sha256`` stay those of the file.

    Raises
    ------
    ScenarioError
        For a name that is not known; for changes that need another or exclude each other; for
        what does not go together after them.
    """
    document, names = tomllib.loads(scenario.text), tuple(names)
    known = [one["name"] for _, one in tables(document, "changes")]
    for name in names:
        if name not in known:
            raise ScenarioError([unknown("change", name, known)])
    label = f"with {', '.join(name for name in known if name in names)}" if names else ""
    reason = missing_or_excluded(document, names)
    if reason:
        raise ScenarioError([f"{label}: {reason}"])
    return remade(scenario, document_with(document, names), label)


def remade(scenario, document, label):
    """Return the scenario with another document, checked as strictly as a file.

    Parameters
    ----------
    scenario : Scenario
    document : dict
        As ``tomllib`` would read it.
    label : str
        What stands in front of a message: ``with small cell``.

    Returns
    -------
    Scenario

    Raises
    ------
    ScenarioError
        With the first thing that does not go together.
    """
    problems, made = [], None
    try:
        made = replace(scenario, document=Document.model_validate(document))
    except ValidationError as error:
        problems = problems_of(error, document)
    problems += without_echoes(list(broken_rules(document)), problems)
    if not problems:
        made = replace(made, curve=injected_curve(scenario, made, label))
        problems = made.unsupported()
    if problems:
        first = problems[0]
        raise ScenarioError(
            [f"{label}: {first.key}: {first.sentence}" if label else first.sentence]
        )
    return made


def missing_or_excluded(document, names) -> str:
    """Say why changes cannot be made together; empty where they can.

    Parameters
    ----------
    document : dict
        A sound one, as ``tomllib`` reads it.
    names : collection of str
    """
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


def with_needs(document, names) -> tuple[str, ...]:
    """Return changes and all that they need, in an order in which they can be made.

    Parameters
    ----------
    document : dict
        As ``tomllib`` reads it; names that are not known are passed over.
    names : collection of str
    """
    needs = {
        one["name"]: [need for need in _list(one, "needs") if isinstance(need, str)]
        for _, one in tables(document, "changes")
        if isinstance(one.get("name"), str)
    }
    ordered, met = [], set()

    def visit(name):
        if name in needs and name not in met:
            met.add(name)
            for need in needs[name]:
                visit(need)
            ordered.append(name)

    for name in needs:
        if name in names:
            visit(name)
    return tuple(ordered)


def document_with(document, names) -> dict:
    """Return the document after some of its changes.

    Parameters
    ----------
    document : dict
        As ``tomllib`` reads it; what cannot be followed in it is passed over.
    names : collection of str
        Of changes; where one needs another, the other is made first.

    Returns
    -------
    dict
        A new one; tables that stay as they are, are shared with the old one.
    """
    made = {key: value for key, value in document.items() if key not in OF_THE_START}
    changes = {one.get("name"): one for _, one in tables(document, "changes")}
    slots = [_Slot(one.get("name"), one) for _, one in tables(document, "path")]
    for name in with_needs(document, names):
        if name in names:
            _make(changes[name], slots, made)
    if slots:
        made["path"] = [slot.part for slot in slots if slot.part is not None]
    return made


def heaters(document) -> int:
    """How many parts of the path heat what passes. int, 1."""
    return sum(part.get("heater") is True for _, part in tables(document, "path"))


@dataclass
class _Slot:
    """A place on the path: what it was called at first, and what is there now (None: nothing)."""

    name: str
    part: dict | None


def _make(change, slots, made):
    for name, new in table(change, "set").items():
        if not isinstance(new, dict):
            continue
        slot = _at(slots, name)
        if name in RESERVED:
            made[name] = merged(table(made, name), new)
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


def _insert(new, slots):
    part = {key: value for key, value in new.items() if key not in ("after", "before")}
    anchor = _at(slots, new.get("after", new.get("before")))
    # Two changes that put in the same part put it in once.
    if anchor and not any(slot.part == part for slot in slots):
        place = next(index for index, slot in enumerate(slots) if slot is anchor)
        slots.insert(place + ("after" in new), _Slot(part.get("name"), part))


def _at(slots, name):
    """The place that has this name now, else the one that had it at first; None for neither."""
    now = [slot for slot in slots if slot.part and slot.part.get("name") == name]
    return next(iter(now + [slot for slot in slots if slot.name == name]), None)


def merged(values, new) -> dict:
    """Return a table with new values put over its own.

    Parameters
    ----------
    values, new : dict
        As they are written in the file. Where a new key excludes an old one (``rise_time`` and
        ``time_constant``), the old one goes.
    """
    dropped = {
        other for pair in EITHER_OR for key in pair if key in new for other in pair if other != key
    }
    return {key: value for key, value in values.items() if key not in dropped} | new


def _list(values, key):
    found = values.get(key)
    return found if isinstance(found, list) else []


def injected_curve(scenario, made, label):
    """Return the injected signal: read again only where its file is another.

    Parameters
    ----------
    scenario : Scenario
        The one that was read.
    made : Scenario
        The one that was made of it.
    label : str
        What stands in front of a message.

    Returns
    -------
    tuple of two (points,) arrays, s and any unit, or None

    Raises
    ------
    ScenarioError
        Where there is no such file.
    """
    name = getattr(made.document.injection, "file", None)
    if name == getattr(scenario.document.injection, "file", None):
        return scenario.curve
    where = scenario.path.parent / name
    if not where.is_file():
        raise ScenarioError(
            [
                f"{label}: injection.file: expected a CSV file, found nothing at {where}; correct "
                "the name"
            ]
        )
    return read_curve(where)
