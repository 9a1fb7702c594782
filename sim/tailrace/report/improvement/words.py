"""What a change does at the bench, in words: two scenario documents compared."""

import tomllib
from dataclasses import dataclass

from tailrace.scenario.changed import document_with

SETTINGS = ("method", "injection", "detector")
"""Tables whose changes are settings, not parts."""

UNSAID = ("name", "part", "heater", "tanks")
"""Keys that a description says otherwise, or that belong to the model and not to the part."""


@dataclass(frozen=True)
class Work:
    """What is to be done in one step.

    Parameters
    ----------
    doings : tuple of str
        One line for each part or setting that changes.
    parts : tuple of str
        What has to be at hand, one line a part; none where only settings change.
    """

    doings: tuple[str, ...]
    parts: tuple[str, ...]


def works(improvement) -> tuple[Work, ...]:
    """Say what is to be done in each step of the best order; at the start, nothing.

    Parameters
    ----------
    improvement : Improvement
    """
    document = tomllib.loads(improvement.scenario.text)
    documents = [document_with(document, step.taken) for step in improvement.steps]
    return (Work((), ()), *map(work, documents, documents[1:]))


def work(before, after) -> Work:
    """Say what leads from one scenario to another.

    Parameters
    ----------
    before, after : dict
        Scenario documents as ``tomllib`` reads them.

    Returns
    -------
    Work
        Values as they are written in the file, with their units.
    """
    doings, parts = [], []
    old = {one["name"]: one for one in before["path"]}
    new = {one["name"]: one for one in after["path"]}
    for name in old:
        if name not in new:
            doings.append(f"{name}: take it out")
    for index, (name, one) in enumerate(new.items()):
        if name not in old:
            doings.append(f"{name}: put it in {_where(after['path'], index)}: {described(one)}")
            parts.append(f"{name}: {described(one)}")
        elif one != old[name]:
            doings.append(f"{name}: {_changed(old[name], one)}")
            parts.append(f"{name}: {described(one)}")
    for table in SETTINGS:
        if before.get(table, {}) != after.get(table, {}):
            doings.append(f"{table}: {_changed(before.get(table, {}), after.get(table, {}))}")
    return Work(tuple(doings), tuple(parts))


def settings(table, unsaid=()) -> str:
    """Keys and values of a table (dict) as they are written: ``relative 0.05; kind tolerance``."""
    told = {key: value for key, value in table.items() if key not in unsaid}
    return "; ".join(f"{_key(key)} {_value(value)}" for key, value in told.items())


def described(part) -> str:
    """A part in words: ``tube, bore 0.12 mm, length 400 mm``.

    Parameters
    ----------
    part : dict
        One entry of ``path`` as ``tomllib`` reads it.
    """
    words = [f"heated {part['part']}" if part.get("heater") else part["part"]]
    words += [f"{_key(key)} {_value(value)}" for key, value in part.items() if key not in UNSAID]
    return ", ".join(words)


def _changed(old, new):
    """The keys that differ: ``bore 0.17 mm to 0.12 mm``."""
    if new.get("part") != old.get("part"):
        return f"put {described(new)} in its place"
    said = []
    for key in dict.fromkeys((*old, *new)):
        if old.get(key) == new.get(key):
            continue
        if key not in new:
            said.append(f"{_key(key)} no longer {_value(old[key])}")
        elif key not in old:
            said.append(f"{_key(key)} {_value(new[key])}")
        else:
            said.append(f"{_key(key)} {_value(old[key])} to {_value(new[key])}")
    return ", ".join(said)


def _where(path, index):
    """Between which parts a part stands."""
    before = path[index - 1]["name"] if index else None
    after = path[index + 1]["name"] if index + 1 < len(path) else None
    if before and after:
        return f"between {before} and {after}"
    return f"behind {before}" if before else f"before {after}"


def _key(key):
    return key.replace("_", " ")


def _value(value):
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return " and ".join(f"{_key(key)} {_value(inner)}" for key, inner in value.items())
    if isinstance(value, list):
        return "; ".join(_value(one) for one in value)
    return str(value)
