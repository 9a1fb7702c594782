"""How changes stand to each other: what one needs, excludes, or contradicts without saying so."""

from itertools import combinations

from tailrace.scenario.changed import EITHER_OR, with_needs
from tailrace.scenario.problems import Problem, unknown
from tailrace.scenario.rules import table, tables


def broken_relations(document):
    """Yield what is wrong between changes.

    Parameters
    ----------
    document : dict
        As ``tomllib`` reads it.

    Yields
    ------
    Problem
    """
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


def well_typed(change) -> bool:
    """Whether a change can be followed: a name, and lists and tables where they belong.

    Parameters
    ----------
    change : dict
        As ``tomllib`` reads it; the model says what is wrong with its types.
    """
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


def excluded(document) -> set[frozenset]:
    """Return the pairs of names that exclude each other, whichever of the two says it.

    Parameters
    ----------
    document : dict
        As ``tomllib`` reads it.
    """
    return {
        frozenset((change["name"], other))
        for _, change in tables(document, "changes")
        for other in change.get("excludes", [])
    }


def _listed(change, key, names, where):
    for name in change.get(key, []) if well_typed(change) else []:
        if name not in names:
            yield Problem(where, unknown("change", name, names))
        elif name == change.get("name"):
            yield Problem(where, f'expected another change, found "{name}" itself; leave it out')


def _circles(document):
    """Changes that need each other in a circle: each is told once, at the first of them."""
    needs = {one["name"]: one.get("needs", []) for _, one in tables(document, "changes")}
    told = set()
    for index, change in tables(document, "changes"):
        way = _way_back(needs, change["name"])
        if way and not told & set(way):
            told |= set(way)
            yield Problem(
                ("changes", index, "needs"),
                f"expected changes that can be made one after the other, found a circle: "
                f"{' needs '.join(way)}; take one of them out of needs",
            )


def _way_back(needs, name):
    """Names from a change over what it needs back to itself; none where there is no such way."""
    ways = [[name]]
    seen = set()
    while ways:
        way = ways.pop()
        for need in needs.get(way[-1], []):
            if need == name:
                return [*way, name]
            if need not in seen:
                seen.add(need)
                ways.append([*way, need])
    return []


def _impossible(document):
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


def _conflicts(document):
    """Pairs that could be made together, and of which the file does not say what comes of it."""
    apart = excluded(document)
    listed = tables(document, "changes")
    whole = {one["name"]: with_needs(document, [one["name"]]) for _, one in listed}
    for (_, one), (index, other) in combinations(listed, 2):
        first, second = one["name"], other["name"]
        related = first in whole[second] or second in whole[first]
        if related or any(frozenset((a, b)) in apart for a in whole[first] for b in whole[second]):
            continue
        clash = _clash(one, other)
        if clash:
            yield Problem(
                ("changes", index),
                f'expected what comes of "{first}" and "{second}" together, found that both '
                f'{clash}; add excludes = ["{first}"], or needs = ["{first}"] if this one builds '
                "upon it",
            )


def _clash(one, other):
    """What two changes do to the same part in two ways; empty where they do not."""
    for name in [name for name in table(one, "set") if name in table(other, "set")]:
        ours, theirs = (_families(table(change, "set")[name]) for change in (one, other))
        for key in ours:
            if key in theirs and ours[key] != theirs[key]:
                return f'set "{key}" of "{name}"'
    for name in _parts(one):
        if name in _parts(other) and _parts(one)[name] != _parts(other)[name]:
            return f'change "{name}"'
    ours, theirs = (
        {new.get("name"): new for _, new in tables(change, "insert")} for change in (one, other)
    )
    for name in ours:
        if name in theirs and ours[name] != theirs[name]:
            return f'insert "{name}"'
    return ""


def _families(new):
    """Values by key; keys of which one excludes the other count as one."""
    leading = {key: pair[0] for pair in EITHER_OR for key in pair}
    return {leading.get(key, key): (key, value) for key, value in new.items()}


def _parts(change):
    """What a change does to each part: takes it out, replaces it, or sets some of its values."""
    done = dict.fromkeys(table(change, "set"), "set")
    done |= {name: ("replaced", new) for name, new in table(change, "replace").items()}
    return done | dict.fromkeys(change.get("remove", []), "removed")
