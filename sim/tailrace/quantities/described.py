"""What a field of a result is: its unit, meaning, label and format, said where it is defined."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, dataclass, field, fields
from typing import Any

KEY = "tailrace"
"""Of a description in the metadata of a dataclass field."""


@dataclass(frozen=True, kw_only=True)
class Description:
    """What is said of one field, once.

    Parameters
    ----------
    meaning : str
        A clause without a full stop.
    unit : str or callable
        SI unit of what is stored; "1" of a plain number, empty of text. Of fields whose unit
        depends on the row a function of the record that holds the field.
    label : str
        Head of a column; the field's name in words where it is empty.
    shown : str
        Unit that people read, such as "uL"; the unit itself where it is empty.
    digits : int
        Significant digits that people read.
    along : tuple of str
        Names of the dimensions of an array or of a tuple.
    names : bool
        Whether this field of texts names the places along its dimension (of a row: the row).
    entries : callable or None
        Of a dict whose keys are known by name: gives the description of a key.
    """

    meaning: str
    unit: str | Callable[[Any], str] = "1"
    label: str = ""
    shown: str = ""
    digits: int = 3
    along: tuple[str, ...] = ()
    names: bool = False
    entries: Callable[[str], Description] | None = None

    def unit_in(self, record: object) -> str:
        """The unit as it is in one record (a dataclass instance)."""
        return self.unit(record) if callable(self.unit) else self.unit


def described(
    meaning: str,
    unit: str | Callable[[Any], str] = "1",
    *,
    label: str = "",
    shown: str = "",
    digits: int = 3,
    along: tuple[str, ...] = (),
    names: bool = False,
    entries: Callable[[str], Description] | None = None,
    default: Any = MISSING,
    default_factory: Any = MISSING,
) -> Any:
    """Make a dataclass field that carries its description; parameters as of ``Description``."""
    description = Description(
        meaning=meaning,
        unit=unit,
        label=label,
        shown=shown,
        digits=digits,
        along=along,
        names=names,
        entries=entries,
    )
    return field(default=default, default_factory=default_factory, metadata={KEY: description})


def descriptions(kind: type | object) -> dict[str, Description]:
    """Descriptions by field name of a dataclass or of one of its instances; others are left out."""
    return {one.name: one.metadata[KEY] for one in fields(kind) if KEY in one.metadata}  # type: ignore[arg-type]
