"""How a field of a described dataclass is laid out in a record, by its type and description."""

import json
import math
import re
import types
from collections.abc import Mapping
from dataclasses import is_dataclass
from functools import cache
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import numpy as np

from tailrace.quantities.described import Description, descriptions
from tailrace.signals.band import Band


@cache
def hints_of(kind: Any) -> dict[str, tuple[Any, bool]]:
    """Type of each field without its None, and whether it may be None."""
    return {name: _split(hint) for name, hint in get_type_hints(kind).items()}


def _split(hint: Any) -> tuple[Any, bool]:
    if get_origin(hint) in (Union, types.UnionType):
        held = [one for one in get_args(hint) if one is not types.NoneType]
        if len(held) == 1:
            return held[0], len(get_args(hint)) > 1
    if get_origin(hint) is Literal:
        return str, False
    return hint, False


def shape_of(hint: Any, description: Description) -> str:
    """How a field is laid out."""
    origin, inner = get_origin(hint), get_args(hint)
    if hint in (bool, int, float, str):
        return "scalar"
    if hint is Band:
        return "band"
    if is_dataclass(hint):
        return "record"
    if origin is np.ndarray or hint is np.ndarray:
        return "array"
    if origin is dict and is_dataclass(inner[1]):
        return "keyed records"
    if origin is dict and description.entries is not None:
        return "entries"
    if origin is dict and (inner[1] is float or get_origin(inner[1]) is np.ndarray):
        return "keyed"
    if origin is tuple and len(inner) == 2 and inner[1] is Ellipsis:
        if is_dataclass(inner[0]):
            return "rows"
        if inner[0] is str and description.along:
            return "texts"
    if origin is tuple and {*inner} - {Ellipsis} in ({int}, {float}):
        return "numbers"
    return "plain"


def shape_in_row(hint: Any, description: Description) -> str:
    """The same for a field of a row: texts have no dimension of their own there."""
    shape = shape_of(hint, description)
    return "plain" if shape == "texts" else shape


def dimensions(name: str, count: int, along: tuple[str, ...]) -> tuple[str, ...]:
    """Names of the ``count`` dimensions of a field; numbered where its description names others."""
    return along if len(along) == count else tuple(f"{name}_{axis}" for axis in range(count))


def nothing(hint: Any) -> Any:
    """What stands in a column where a row has none."""
    return {bool: False, int: -1, float: math.nan}.get(hint, "")


def alike(values: list[Any]) -> bool:
    """Whether arrays have one shape, so that they can be stacked."""
    return len({np.shape(one) for one in values}) == 1


def as_json(value: object) -> Any:
    """Plain JSON values: of a dataclass its described fields, without bands; no NaN.

    ``value``: a dataclass instance, a number, a text, an array, or a tuple or dict of these.
    """
    if is_dataclass(value) and not isinstance(value, type):
        return {
            name: as_json(getattr(value, name))
            for name in descriptions(value)
            if not isinstance(getattr(value, name), Band)
        }
    if isinstance(value, Mapping):
        return {str(key): as_json(one) for key, one in value.items()}
    if isinstance(value, np.ndarray):
        return as_json(value.tolist())
    if isinstance(value, tuple | list | set | frozenset):
        ordered = sorted(value) if isinstance(value, set | frozenset) else value
        return [as_json(one) for one in ordered]
    if isinstance(value, np.generic):
        return as_json(value.item())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def as_text(value: Any) -> str:
    """Text of JSON; NaN stays NaN, which Python reads back."""
    return json.dumps(_listed(value))


def _listed(value: Any) -> Any:
    """Nested tuples, sets and dicts of scalars as lists and dicts."""
    if isinstance(value, dict):
        return {key: _listed(one) for key, one in value.items()}
    if isinstance(value, set | frozenset):
        return sorted(value)
    if isinstance(value, tuple | list):
        return [_listed(one) for one in value]
    return value.item() if isinstance(value, np.generic) else value


def from_text(hint: Any, text: str) -> Any:
    """Read ``as_text`` back, by the type of the field."""
    return _typed(hint, json.loads(text))


def _typed(hint: Any, value: Any) -> Any:
    origin, inner = get_origin(hint), get_args(hint)
    if origin is tuple:
        kinds = [inner[0]] * len(value) if inner[-1] is Ellipsis else inner
        return tuple(_typed(kind, one) for kind, one in zip(kinds, value, strict=True))
    if origin in (set, frozenset):
        return origin(value)
    if origin is dict:
        return {key: _typed(inner[1], one) for key, one in value.items()}
    return value


def numbered(index: int, name: str) -> str:
    """A name that HDF5 allows and that sorts in order: ``002 needle seat``."""
    safe = re.sub(r"[^\w .+-]", "_", name).strip(" .")
    return f"{index:03d} {safe}".strip()


def safe(name: str) -> str:
    """A name that HDF5 and netCDF allow."""
    return re.sub(r"[^\w.+-]", "_", name)
