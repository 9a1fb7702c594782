"""What a part made in code cannot be: said in one sentence where it is made."""

from collections.abc import Collection
from dataclasses import MISSING, fields
from typing import Any

import numpy as np

from tailrace.errors import PartError
from tailrace.quantities.kinds import KINDS, show

KIND_OF = {
    "bore": "bore",
    "gap_bore": "bore",
    "length": "length",
    "gap_length": "length",
    "light_path": "length",
    "particle_diameter": "particle diameter",
    "volume": "volume",
    "washout_volume": "volume",
    "head_volume": "volume",
    "sigma": "duration",
}
"""Fields that are looked at, by name: none is negative, or greater than its kind can be."""


def checked(part: Any, needed: Collection[str] = ()) -> None:
    """Refuse sizes that no part has.

    ``needed``: fields that may not be NaN, beside those without a default. Raises PartError.
    """
    for field in fields(part):
        if field.name not in KIND_OF:
            continue
        value, kind = getattr(part, field.name), KINDS[KIND_OF[field.name]]
        where = f"{part.name}: {field.name}: expected a number or a numpy array, {kind.unit}, found"
        if isinstance(value, str | bytes | list | tuple | dict) or value is None:
            raise PartError(f"{where} a {type(value).__name__}; 1 mm is 1e-3, 1 uL is 1e-9")
        numbers = np.asarray(value, dtype=float)
        if (field.default is MISSING or field.name in needed) and np.isnan(numbers).any():
            raise PartError(f"{where} NaN; give it")
        low = np.nanmin(numbers, initial=np.inf)
        high = np.nanmax(numbers, initial=-np.inf)
        if low < 0:
            raise PartError(f"{where} {low:g}, which is below zero; correct it")
        if high > kind.greatest:
            size = show(high, KIND_OF[field.name])
            raise PartError(
                f"{where} {high:g}, which is {size}: more than any; 1 mm is 1e-3, 1 uL is 1e-9"
            )


def one_of(part: Any, name: str, known: Collection[str]) -> None:
    """Refuse a word that a field does not know; raises PartError."""
    found = getattr(part, name)
    if found not in known:
        raise PartError(
            f"{part.name}: {name}: expected {' or '.join(known)}, found {str(found)[:40]!r}; "
            "write one of them"
        )
