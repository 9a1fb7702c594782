"""Numbers laid upon a checked scenario, and how a field is found again in a changed one."""

from tailrace.scenario.uncertain_rules import value_at


def with_numbers(document, places, values):
    """A checked document with other numbers, without checking it again.

    Parameters
    ----------
    document : Document
    places : sequence of tuple of str and int
        As of ``Target``.
    values : sequence of float, SI units of the fields

    Returns
    -------
    Document
    """
    tables = {}
    for (*table, key), value in zip(places, values, strict=True):
        tables.setdefault(tuple(table), {})[key] = value
    lists = {head: list(getattr(document, head)) for head, *rest in tables if _listed(rest)}
    for (head, *rest), new in tables.items():
        if _listed(rest):
            lists[head][rest[0]] = lists[head][rest[0]].model_copy(update=new)
    update = dict(lists)
    for (head, *rest), new in tables.items():
        if rest and not _listed(rest):
            inner = getattr(document, head)
            inner = update.get(head, inner)
            changed = getattr(inner, rest[0]).model_copy(update=new)
            update[head] = inner.model_copy(update={rest[0]: changed})
        elif not rest:
            update[head] = update.get(head, getattr(document, head)).model_copy(update=new)
    return document.model_copy(update=update)


def _listed(rest):
    return bool(rest) and isinstance(rest[0], int)


def where_is(document, place):
    """A place by the name of its part or solute, which a changed scenario may have elsewhere.

    Parameters
    ----------
    document : Document
    place : tuple of str and int
        As of ``Target``.

    Returns
    -------
    tuple of three str
        Table, name (empty where the table has none) and key.
    """
    *table, key = place
    if len(table) == 2 and isinstance(table[1], int):
        return table[0], getattr(document, table[0])[table[1]].name, key
    return ".".join(table), "", key


def place_of(document, where):
    """The place in this document of what ``where_is`` said of another.

    Parameters
    ----------
    document : Document
    where : tuple of three str

    Returns
    -------
    tuple of str and int, or None
        None where the document has no such table or key.
    """
    table, name, key = where
    if not name:
        place = (*table.split("."), key)
        holder = document
        for step in place[:-1]:
            holder = getattr(holder, step, None)
        return place if hasattr(holder, key) else None
    found = [index for index, one in enumerate(getattr(document, table)) if one.name == name]
    if not found or not hasattr(getattr(document, table)[found[0]], key):
        return None
    return (table, found[0], key)


def number_at(document, where):
    """The number that stands there.

    Parameters
    ----------
    document : Document
    where : tuple of three str

    Returns
    -------
    float, SI unit of the field, or None
        None where nothing stands there.
    """
    place = place_of(document, where)
    return None if place is None else value_at(document, place)
