"""What a change does to a scenario, and whether it can."""

from pydantic import TypeAdapter, ValidationError

from tailrace.scenario.injection import InjectionTable
from tailrace.scenario.model import DetectorTable
from tailrace.scenario.path import PartTable
from tailrace.scenario.problems import Problem, problems_of, unknown
from tailrace.scenario.rules import RESERVED, inner_rules, table, tables

ENDS = {"injection": TypeAdapter(InjectionTable), "detector": TypeAdapter(DetectorTable)}
PART = TypeAdapter(PartTable)
EITHER_OR = (("time_constant", "rise_time"),)
FIXED = ("name", "part", "shape")


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


def broken_changes(document) -> list[Problem]:
    """Return what is wrong with ``[[changes]]``.

    Parameters
    ----------
    document : dict
        As ``tomllib`` reads it.
    """
    found = []
    for index, change in tables(document, "changes"):
        where = ("changes", index)
        found += _lists(document, change, where)
        for name, new in table(change, "set").items():
            if isinstance(new, dict):
                found += _set(document, name, new, (*where, "set", name))
        if not change.get("set") and not change.get("remove"):
            found.append(
                Problem(
                    where,
                    "expected what it does, found neither set nor remove; "
                    'add set = { "flow cell" = { volume = "2.5 uL" } } or remove = ["heater"]',
                )
            )
    return found


def _named(document, key):
    return {
        one["name"]: one for _, one in tables(document, key) if isinstance(one.get("name"), str)
    }


def _lists(document, change, where):
    parts, changes = _named(document, "path"), _named(document, "changes")
    known = {"remove": ("part", parts), "needs": ("change", changes)}
    for key, (what, names) in known.items():
        listed = change.get(key)
        for name in listed if isinstance(listed, list) else []:
            if not isinstance(name, str):
                continue
            if name not in names:
                yield Problem((*where, key), unknown(what, name, names))
            elif key == "needs" and name == change.get("name"):
                yield Problem(
                    (*where, key), f'expected another change, found "{name}" itself; leave it out'
                )
            elif key == "remove" and name in table(change, "set"):
                yield Problem(
                    (*where, key),
                    f'expected "{name}" either set or removed, found both; leave out one of them',
                )
    removed = change.get("remove")
    if isinstance(removed, list) and parts and set(parts) <= {str(name) for name in removed}:
        yield Problem(
            (*where, "remove"),
            "expected a part to stay on the path, found all of them removed; leave one in",
        )


def _set(document, name, new, where):
    """Yield what is wrong with new values for one part."""
    parts = _named(document, "path")
    if name in RESERVED:
        old, adapter, prefix = table(document, name), ENDS[name], (name,)
    elif name in parts:
        old, adapter, prefix = parts[name], PART, ("path", 0)
    else:
        yield Problem(where, unknown("part", name, [*parts, *RESERVED]))
        return
    for key in FIXED:
        if key in new:
            yield Problem(
                (*where, key), f"expected {key} to stay as it is, found a new one; leave it out"
            )
            return
    whole = merged(old, new)
    stand_in = {"path": [whole]} if prefix[0] == "path" else {name: whole}
    try:
        adapter.validate_python(whole)
    except ValidationError as error:
        for problem in problems_of(error, stand_in, prefix):
            if problem.path[len(prefix)] in new:
                yield Problem(where + problem.path[len(prefix) :], problem.sentence)
    before = list(inner_rules(old, where))
    yield from (problem for problem in inner_rules(whole, where) if problem not in before)
