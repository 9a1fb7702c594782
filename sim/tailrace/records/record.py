"""A result of any kind and its provenance as one xarray tree, and back."""

import hashlib
from dataclasses import fields, is_dataclass
from typing import Any, get_args

import numpy as np
import xarray

from tailrace.journey.result import Result
from tailrace.journey.verification import CrossCheck
from tailrace.quantities.described import descriptions
from tailrace.records.codec import as_tree, from_tree
from tailrace.records.kinds import KINDS, kind_named
from tailrace.records.layout import hints_of, numbered, shape_of
from tailrace.records.provenance import Provenance
from tailrace.records.seal import SEAL
from tailrace.records.separation import separation

LAYOUT = 7
"""Raised by one whenever a field of a record comes, goes or changes: an older record is refused."""
FIELDS = "fad2e4ae573d25bcb246fe7c9c0365dc06daf4dc90e60fb17fda7564314e9a53"
"""``fields_sha256`` of this layout; a test holds them together."""
FILES = "data_files"


def tree_of(result: object, provenance: Provenance, **beside: object) -> xarray.DataTree:
    """Lay a result out as a tree whose every variable says its unit.

    ``result``: of a class of ``KINDS``; ``provenance``: the attributes of the root; ``**beside``:
    described values, or dicts of them by name; None is left out.
    """
    tree: xarray.DataTree = as_tree(result, attributes_of(kind_named(result), provenance), **beside)
    return with_files(tree, provenance)


def attributes_of(kind: str, provenance: Provenance) -> dict[str, Any]:
    """Attributes of the root of a record: what it is, and where it comes from."""
    about = {name: getattr(provenance, name) for name in _texts()}
    about["assumptions"] = "\n".join(" ".join(one.split()) for one in provenance.assumptions)
    return {"kind": kind, "layout": LAYOUT, **about}


def as_record(
    result: Result, provenance: Provenance, check: CrossCheck | None = None
) -> xarray.DataTree:
    """The record of a run.

    Solutes are a coordinate of the root. ``parts`` is a table, with a group for the band behind
    each part; ``recorded``, ``numerical_error``, ``signal`` and ``pressure`` are groups; where
    there is something to say ``column_alone``, ``column_band``, ``resolution`` and ``cross_check``.
    """
    pairs = separation(result) if len(result.lanes) > 1 else None
    return tree_of(result, provenance, resolution=pairs, cross_check=check)


def as_result(record: Any) -> Any:
    """Read the result back out of a record of any kind; a result is handed through as it is.

    Raises KeyError, ValueError or TypeError where something is missing that every such record has.
    """
    if not isinstance(record, xarray.DataTree):
        return record
    kind = KINDS[record.attrs["kind"]]
    return from_tree(kind.of, record, kind.given(as_provenance(record)))


def as_beside(record: xarray.DataTree, name: str) -> Any:
    """Read what stands beside the result; None where the record holds none."""
    if name not in record.children:
        return None
    return from_tree(KINDS[record.attrs["kind"]].beside()[name], record[name])


SIGNED = "signatures"
"""Attribute of a record in memory: the signatures beside its file."""
ASIDE = ("files", "seal", "signatures")
"""Of the provenance: what is no text of the record."""


def as_provenance(record: xarray.DataTree) -> Provenance:
    """Read the provenance back out of a record."""
    texts = {name: str(record.attrs[name]) for name in _texts()}
    lines = texts.pop("assumptions")
    held = record[FILES].children.values() if FILES in record.children else ()
    files = {str(one.attrs["key"]): np.asarray(one["content"].data).tobytes() for one in held}
    return Provenance(
        **texts,
        assumptions=tuple(lines.split("\n")) if lines else (),
        files=files,
        seal=str(record.attrs.get(SEAL, "")),
        signatures=record.attrs.get(SIGNED, ()),
    )


def with_files(record: xarray.DataTree, provenance: Provenance) -> xarray.DataTree:
    """Put the files that the scenario read into its record, byte by byte."""
    for index, (name, content) in enumerate(sorted(provenance.files.items())):
        description = {"units": "1", "long_name": "bytes of the file"}
        values = ("byte", np.frombuffer(content, np.uint8), description)
        held = xarray.Dataset({"content": values}, attrs={"key": name})
        record[f"{FILES}/{numbered(index, name)}"] = xarray.DataTree(held)
    return record


def fields_sha256() -> str:
    """Of every field of every class that records hold: its name, form, unit and dimensions."""
    held: dict[str, list[str]] = {}
    for row in KINDS.values():
        for hint in (row.of, *row.beside().values()):
            _gather(hint, held)
    text = "\n".join(f"{name}: {'; '.join(held[name])}" for name in sorted(held))
    return hashlib.sha256(text.encode()).hexdigest()


def _gather(hint: Any, held: dict[str, list[str]]) -> None:
    """Add the described fields of a dataclass, and of those within it, by its name."""
    for inner in get_args(hint):
        _gather(inner, held)
    kind: Any = hint
    if not is_dataclass(hint) or kind.__name__ in held:
        return
    rows, hints = held.setdefault(kind.__name__, []), hints_of(kind)
    for name, description in descriptions(kind).items():
        inner, lacking = hints[name]
        unit = "varies" if callable(description.unit) else description.unit
        form = f"{shape_of(inner, description)}{'?' * lacking} of {'/'.join(_names(inner))}"
        rows.append(
            f"{name} {form} in {unit} along {'/'.join(description.along)}{'*' * description.names}"
        )
        _gather(inner, held)


def _names(hint: Any) -> list[str]:
    """Of a type and those within it; not how numpy writes a shape."""
    if not (inner := get_args(hint)):
        return [hint.__name__] if isinstance(hint, type) else []
    return [name for one in inner for name in _names(one)]


def _texts() -> list[str]:
    return [field.name for field in fields(Provenance) if field.name not in ASIDE]
