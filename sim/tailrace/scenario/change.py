"""Whether a change can do to a scenario what it says."""

from pydantic import TypeAdapter, ValidationError

from tailrace.errors import ScenarioError
from tailrace.scenario.change_relations import broken_relations, well_typed
from tailrace.scenario.changed import changed, document_with, merged, with_needs
from tailrace.scenario.injection import InjectionTable
from tailrace.scenario.model import DetectorTable, MethodTable
from tailrace.scenario.path import PartTable
from tailrace.scenario.problems import Problem, problems_of, unknown
from tailrace.scenario.rules import RESERVED, broken_rules, inner_rules, table, tables

ENDS = {
    "injection": TypeAdapter(InjectionTable),
    "detector": TypeAdapter(DetectorTable),
    "method": TypeAdapter(MethodTable),
}
PART = TypeAdapter(PartTable)
FIXED = ("name", "part", "shape", "heater", "needs_temperature_control")
DOINGS = ("set", "remove", "replace", "insert")


def broken_changes(document) -> list[Problem]:
    """Return what is wrong with ``[[changes]]``.

    Parameters
    ----------
    document : dict
        As ``tomllib`` reads it.
    """
    found = list(broken_relations(document))
    listed = [(index, one) for index, one in tables(document, "changes") if well_typed(one)]
    document = {**document, "changes": [one for _, one in listed]}
    for index, change in listed:
        where = ("changes", index)
        before = document_with(document, set(with_needs(document, [change.get("name")])[:-1]))
        own = [*_removed(before, document, change, where), *_twice(change, where)]
        for key, look in (("set", _set), ("replace", _replaced)):
            for name, new in table(change, key).items():
                own += look(before, document, name, new, (*where, key, name))
        for place, new in tables(change, "insert"):
            own += _inserted(before, document, new, (*where, "insert", place))
        if not any(change.get(key) for key in DOINGS):
            own.append(
                Problem(
                    where,
                    "expected what it does, found neither set nor remove, replace or insert; "
                    'add set = { "flow cell" = { volume = "2.5 uL" } } or remove = ["heater"]',
                )
            )
        found += own or _afterwards(document, before, change, where)
    return found


def unworkable_changes(scenario) -> list[Problem]:
    """Return the changes after which the scenario cannot be computed.

    Parameters
    ----------
    scenario : Scenario
        Otherwise sound.
    """
    found = []
    document = {"changes": [{"name": one.name, "needs": one.needs} for one in _changes(scenario)]}
    for index, change in enumerate(_changes(scenario)):
        try:
            changed(scenario, with_needs(document, [change.name]))
        except ScenarioError as error:
            found.append(Problem(("changes", index), error.problems[0]))
    return found


def _changes(scenario):
    return scenario.document.changes


def _named(document, key):
    return {
        one["name"]: one for _, one in tables(document, key) if isinstance(one.get("name"), str)
    }


def _no_part(name, before, document, where, more=()):
    """Say that a part is not there, and which change would bring it."""
    for _, change in tables(document, "changes"):
        news = [*table(change, "replace").values(), *(one for _, one in tables(change, "insert"))]
        if any(new.get("name") == name for new in news):
            return Problem(
                where,
                f'expected a part that is there, found "{name}", which "{change["name"]}" '
                f'brings; add needs = ["{change["name"]}"]',
            )
    return Problem(where, unknown("part", name, [*_named(before, "path"), *more]))


def _removed(before, document, change, where):
    parts, names = _named(before, "path"), change.get("remove", [])
    for name in names:
        if name not in parts:
            yield _no_part(name, before, document, (*where, "remove"))
    if parts and set(parts) <= set(names) and not change.get("insert"):
        yield Problem(
            (*where, "remove"),
            "expected a part to stay on the path, found all of them removed; leave one in",
        )


def _twice(change, where):
    """A part that one change treats in two ways."""
    words = {"set": "set", "remove": "removed", "replace": "replaced"}
    touched = {}
    for key in words:
        for name in change.get(key) or ():
            if name in touched:
                yield Problem(
                    (*where, key),
                    f'expected "{name}" either {words[touched[name]]} or {words[key]}, found both; '
                    "leave out one of them",
                )
            touched.setdefault(name, key)


def _set(before, document, name, new, where):
    """Yield what is wrong with new values for one part."""
    parts = _named(before, "path")
    if name in RESERVED:
        old, adapter, prefix = table(before, name), ENDS[name], (name,)
    elif name in parts:
        old, adapter, prefix = parts[name], PART, ("path", 0)
    else:
        yield _no_part(name, before, document, where, RESERVED)
        return
    for key in FIXED:
        if key in new:
            yield Problem(
                (*where, key), f"expected {key} to stay as it is, found a new one; leave it out"
            )
            return
    if name == "method" and "eluent" in new and "viscosity" in old and "viscosity" not in new:
        yield Problem(
            (*where, "eluent"),
            "expected the viscosity of the new eluent, since [method] gives that of the old one, "
            'found none; add viscosity = "0.45 mPa*s"',
        )
    whole = merged(old, new)
    for problem in _checked(adapter, whole, prefix, where):
        if problem.path[len(where) :][:1] and problem.path[len(where)] in new:
            yield problem
    known = list(inner_rules(old, where))
    yield from (problem for problem in inner_rules(whole, where) if problem not in known)


def _replaced(before, document, name, new, where):
    """Yield what is wrong with a whole new part in the place of another."""
    if name not in _named(before, "path"):
        yield _no_part(name, before, document, where)
        return
    yield from _whole({"name": name} | new, where)


def _inserted(before, document, new, where):
    """Yield what is wrong with a part that is put in."""
    anchors = [key for key in ("after", "before") if key in new]
    if len(anchors) != 1:
        yield Problem(
            where,
            f"expected either after or before a part, found {'both' if anchors else 'neither'}; "
            + ("leave out one of them" if anchors else 'add after = "column"'),
        )
    for key in anchors:
        if new[key] not in _named(before, "path"):
            yield _no_part(new[key], before, document, (*where, key))
    yield from _whole({key: new[key] for key in new if key not in ("after", "before")}, where)


def _whole(part, where):
    yield from _checked(PART, part, ("path", 0), where)
    yield from inner_rules(part, where)


def _checked(adapter, whole, prefix, where):
    """The problems of a table that stands elsewhere in the file than where it will be used."""
    stand_in = {"path": [whole]} if prefix[0] == "path" else {prefix[0]: whole}
    try:
        adapter.validate_python(whole)
    except ValidationError as error:
        for problem in problems_of(error, stand_in, prefix):
            yield Problem((*where, *problem.path[len(prefix) :]), problem.sentence)


def _afterwards(document, before, change, where):
    """What does not go together once the change is made, and did before."""
    after = document_with(document, with_needs(document, [change["name"]]))
    known = {problem.sentence for problem in broken_rules(before)}
    news = [problem for problem in broken_rules(after) if problem.sentence not in known]
    return [Problem(where, f"{problem.key}: {problem.sentence}") for problem in news]
