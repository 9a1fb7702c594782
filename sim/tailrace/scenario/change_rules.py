"""What is wrong with ``[[changes]]``: each by itself, and how they stand to each other."""

from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations
from typing import Any

from pydantic import TypeAdapter, ValidationError

from tailrace.errors import ScenarioError
from tailrace.scenario.changed import (
    FIXED,
    changed,
    document_on,
    document_with,
    excluded,
    merged,
    on_column,
    with_needs,
)
from tailrace.scenario.contents import Contents
from tailrace.scenario.model import (
    DetectorTable,
    InjectionTable,
    MethodTable,
    PartTable,
    SoluteTable,
)
from tailrace.scenario.problems import Place, Problem, Tables, problems_of, unknown
from tailrace.scenario.rules import (
    EITHER_OR,
    RESERVED,
    broken_rules,
    inner_rules,
    separates,
    table,
    tables,
)

ENDS: dict[str, TypeAdapter[Any]] = {
    "injection": TypeAdapter(InjectionTable),
    "detector": TypeAdapter(DetectorTable),
    "method": TypeAdapter(MethodTable),
}
PART: TypeAdapter[Any] = TypeAdapter(PartTable)
SOLUTE: TypeAdapter[Any] = TypeAdapter(SoluteTable)
DOINGS = ("set", "remove", "replace", "insert")


def broken_changes(document: Tables) -> list[Problem]:
    """Return what is wrong with ``[[changes]]``, whatever stands in them."""
    found = list(broken_relations(document))
    listed = [(index, one) for index, one in tables(document, "changes") if well_typed(one)]
    document = {**document, "changes": [one for _, one in listed]}
    for index, change in listed:
        where: Place = ("changes", index)
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


def broken_columns(document: Tables) -> list[Problem]:
    """Return what is wrong with ``[[columns]]``, whatever stands in them."""
    found = []
    separating = [one for _, one in tables(document, "path") if separates(one)]
    for index, column in tables(document, "columns"):
        where: Place = ("columns", index)
        own = (
            []
            if separating
            else [Problem(where, "expected a column on the path, found none; add one")]
        )
        for name, new in table(column, "set").items():
            if isinstance(new, dict):
                own += _set(document, document, name, new, (*where, "set", name), solutes=True)
        if not own:
            known = {problem.sentence for problem in broken_rules(document)}
            news = [
                one
                for one in broken_rules(document_on(document, column))
                if one.sentence not in known
            ]
            own = [Problem(where, f"{problem.key}: {problem.sentence}") for problem in news]
        found += own
    return found


def unworkable_columns(scenario: Contents) -> list[Problem]:
    """Return the columns with which an otherwise sound scenario, or a change of it, cannot be
    computed."""
    found = []
    for index, column in tables(scenario.tables, "columns"):
        try:
            problems = unworkable_changes(on_column(scenario, column))
            sentence = f"with it {problems[0].key}: {problems[0].sentence}" if problems else ""
        except ScenarioError as error:
            sentence = error.problems[0]
        if sentence:
            found.append(Problem(("columns", index), sentence))
    return found


def unworkable_changes(scenario: Contents) -> list[Problem]:
    """Return the changes after which an otherwise sound scenario cannot be computed."""
    found = []
    for index, change in enumerate(scenario.document.changes):
        try:
            changed(scenario, with_needs(scenario.tables, [change.name]))
        except ScenarioError as error:
            found.append(Problem(("changes", index), error.problems[0]))
    return found


def _named(document: Tables, key: str) -> dict[str, Tables]:
    return {
        one["name"]: one for _, one in tables(document, key) if isinstance(one.get("name"), str)
    }


def _no_part(
    name: object, before: Tables, document: Tables, where: Place, more: Iterable[str] = ()
) -> Problem:
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


def _removed(before: Tables, document: Tables, change: Tables, where: Place) -> Iterator[Problem]:
    parts, names = _named(before, "path"), change.get("remove", [])
    for name in names:
        if name not in parts:
            yield _no_part(name, before, document, (*where, "remove"))
    if parts and set(parts) <= set(names) and not change.get("insert"):
        yield Problem(
            (*where, "remove"),
            "expected a part to stay on the path, found all of them removed; leave one in",
        )


def _twice(change: Tables, where: Place) -> Iterator[Problem]:
    """A part that one change treats in two ways."""
    words = {"set": "set", "remove": "removed", "replace": "replaced"}
    touched: dict[str, str] = {}
    for key in words:
        for name in change.get(key) or ():
            if name in touched:
                yield Problem(
                    (*where, key),
                    f'expected "{name}" either {words[touched[name]]} or {words[key]}, found both; '
                    "leave out one of them",
                )
            touched.setdefault(name, key)


def _set(
    before: Tables,
    document: Tables,
    name: str,
    new: Tables,
    where: Place,
    solutes: bool = False,
) -> Iterator[Problem]:
    """Yield what is wrong with new values for one part, or with ``solutes`` for one of these."""
    parts = _named(before, "path")
    dissolved = _named(before, "solutes") if solutes else {}
    adapter: TypeAdapter[Any]
    prefix: Place
    if name in RESERVED:
        old, adapter, prefix = table(before, name), ENDS[name], (name,)
    elif name in parts:
        old, adapter, prefix = parts[name], PART, ("path", 0)
    elif name in dissolved:
        old, adapter, prefix = dissolved[name], SOLUTE, ("solutes", 0)
    else:
        yield _no_part(name, before, document, where, (*dissolved, *RESERVED))
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


def _replaced(
    before: Tables, document: Tables, name: str, new: Tables, where: Place
) -> Iterator[Problem]:
    """Yield what is wrong with a whole new part in the place of another."""
    if name not in _named(before, "path"):
        yield _no_part(name, before, document, where)
        return
    yield from _whole({"name": name} | new, where)


def _inserted(before: Tables, document: Tables, new: Tables, where: Place) -> Iterator[Problem]:
    """Yield what is wrong with a part that is put in."""
    anchors = [key for key in ("after", "before") if key in new]
    if len(anchors) != 1:
        yield Problem(
            where,
            f"expected either after or before a part, found {'both' if anchors else 'neither'}; "
            + ("leave out one of them" if anchors else 'add after = "column"'),
        )
    for key in anchors:
        if str(new[key]) not in _named(before, "path"):
            yield _no_part(new[key], before, document, (*where, key))
    yield from _whole({key: new[key] for key in new if key not in ("after", "before")}, where)


def _whole(part: Tables, where: Place) -> Iterator[Problem]:
    yield from _checked(PART, part, ("path", 0), where)
    yield from inner_rules(part, where)


def _checked(
    adapter: TypeAdapter[Any], whole: Tables, prefix: Place, where: Place
) -> Iterator[Problem]:
    """The problems of a table that stands elsewhere in the file than where it will be used."""
    stand_in = {str(prefix[0]): [whole] if len(prefix) > 1 else whole}
    try:
        adapter.validate_python(whole)
    except ValidationError as error:
        for problem in problems_of(error, stand_in, prefix):
            yield Problem((*where, *problem.path[len(prefix) :]), problem.sentence)


def _afterwards(document: Tables, before: Tables, change: Tables, where: Place) -> list[Problem]:
    """What does not go together once the change is made, and did before."""
    after = document_with(document, with_needs(document, [change["name"]]))
    known = {problem.sentence for problem in broken_rules(before)}
    news = [problem for problem in broken_rules(after) if problem.sentence not in known]
    return [Problem(where, f"{problem.key}: {problem.sentence}") for problem in news]


def broken_relations(document: Tables) -> Iterator[Problem]:
    """Yield what is wrong between changes."""
    names = [one["name"] for _, one in tables(document, "changes") if well_typed(one)]
    found = [
        problem
        for index, change in tables(document, "changes")
        for key in ("needs", "excludes")
        for problem in _listed(change, key, names, ("changes", index, key))
    ]
    if not found and len(set(names)) == len(tables(document, "changes")):
        found = list(_circles(document)) or [*_impossible(document), *_conflicts(document)]
    yield from found


def well_typed(change: Tables) -> bool:
    """Whether a change can be followed: a name, and lists and tables where they belong."""
    words = [
        [change.get("name")],
        *(change.get(key, []) for key in ("remove", "needs", "excludes")),
    ]
    inner = [change.get(key, {}) for key in ("set", "replace")]
    if not all(isinstance(one, list) for one in (*words, change.get("insert", []))):
        return False
    if not all(isinstance(one, dict) for one in inner):
        return False
    tables_within = [*change.get("insert", []), *(new for one in inner for new in one.values())]
    return all(isinstance(one, str) for listed in words for one in listed) and all(
        isinstance(one, dict) for one in tables_within
    )


def _listed(change: Tables, key: str, names: list[str], where: Place) -> Iterator[Problem]:
    for name in change.get(key, []) if well_typed(change) else []:
        if name not in names:
            yield Problem(where, unknown("change", name, names))
        elif name == change.get("name"):
            yield Problem(where, f'expected another change, found "{name}" itself; leave it out')


def _circles(document: Tables) -> Iterator[Problem]:
    """Changes that need each other in a circle: each is told once, at the first of them."""
    needs = {one["name"]: one.get("needs", []) for _, one in tables(document, "changes")}
    named: set[str] = set()
    for index, change in tables(document, "changes"):
        way = _way_back(needs, change["name"])
        if way and not named & set(way):
            named |= set(way)
            yield Problem(
                ("changes", index, "needs"),
                f"expected changes that can be made one after the other, found a circle: "
                f"{' needs '.join(way)}; take one of them out of needs",
            )


def _way_back(needs: Mapping[str, list[str]], name: str) -> list[str]:
    """Names from a change over what it needs back to itself; none where there is no such way."""
    ways = [[name]]
    seen: set[str] = set()
    while ways:
        way = ways.pop()
        for need in needs.get(way[-1], []):
            if need == name:
                return [*way, name]
            if need not in seen:
                seen.add(need)
                ways.append([*way, need])
    return []


def _impossible(document: Tables) -> Iterator[Problem]:
    """Changes that need what excludes another of their needs, or themselves."""
    apart = excluded(document)
    for index, change in tables(document, "changes"):
        whole = with_needs(document, [change["name"]])
        for one, other in combinations(sorted(whole, key=whole.index), 2):
            if frozenset((one, other)) in apart:
                yield Problem(
                    ("changes", index, "needs"),
                    f'expected needs that go together, found "{one}" and "{other}", which exclude '
                    "each other; correct needs or excludes",
                )


def _conflicts(document: Tables) -> Iterator[Problem]:
    """Pairs that could be made together, and of which the file does not say what comes of it."""
    apart = excluded(document)
    listed = tables(document, "changes")
    whole = {one["name"]: with_needs(document, [one["name"]]) for _, one in listed}
    reported = set[int]()
    for (_, one), (index, other) in combinations(listed, 2):
        if index in reported:
            continue  # one sentence for each change: of 200 alike there would be 19,900
        first, second = one["name"], other["name"]
        related = first in whole[second] or second in whole[first]
        if related or any(frozenset((a, b)) in apart for a in whole[first] for b in whole[second]):
            continue
        clash = _clash(one, other)
        if clash:
            reported.add(index)
            yield Problem(
                ("changes", index),
                f'expected what comes of "{first}" and "{second}" together, found that both '
                f'{clash}; add excludes = ["{first}"], or needs = ["{first}"] if this one builds '
                "upon it",
            )


def _clash(one: Tables, other: Tables) -> str:
    """What two changes do to the same part in two ways; empty where they do not."""
    for name in [name for name in table(one, "set") if name in table(other, "set")]:
        ours, theirs = (_families(table(change, "set")[name]) for change in (one, other))
        for key in ours:
            if key in theirs and ours[key] != theirs[key]:
                return f'set "{key}" of "{name}"'
    for name in _parts(one):
        if name in _parts(other) and _parts(one)[name] != _parts(other)[name]:
            return f'change "{name}"'
    first, second = (
        {str(new.get("name")): new for _, new in tables(change, "insert")}
        for change in (one, other)
    )
    for new in first:
        if new in second and first[new] != second[new]:
            return f'insert "{new}"'
    return ""


def _families(new: Tables) -> dict[str, tuple[str, object]]:
    """Values by key; keys of which one excludes the other count as one."""
    leading = {key: pair[0] for pair in EITHER_OR for key in pair}
    return {leading.get(key, key): (key, value) for key, value in new.items()}


def _parts(change: Tables) -> dict[str, object]:
    """What a change does to each part: takes it out, replaces it, or sets some of its values."""
    done: dict[str, object] = dict.fromkeys(table(change, "set"), "set")
    done |= {name: ("replaced", new) for name, new in table(change, "replace").items()}
    return done | dict.fromkeys(change.get("remove", []), "removed")
