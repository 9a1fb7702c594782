"""What an object made in code cannot be: said in one sentence where it is made."""

from collections.abc import Collection
from dataclasses import MISSING, dataclass, fields
from functools import cache
from typing import Any

import numpy as np

from tailrace.errors import PartError
from tailrace.quantities.kinds import KINDS, show

UNITS = "1 mm is 1e-3, 1 uL is 1e-9, 1 mL/min is 1e-6/60"


@dataclass(frozen=True)
class _Range:
    """What a field may be: its kind of quantity, or the unit of what has none, and its ends.

    ``positive``: above ``low``, and not at it. ``high`` None: that of the kind.
    """

    kind: str = ""
    low: float = 0.0
    positive: bool = False
    high: float | None = None
    unit: str = "1"


ANY = float("inf")
_SIZE, _SHARE, _TIME = _Range("length"), _Range(high=1.0), _Range(high=ANY, unit="s")
RANGES = {
    "bore": _Range("bore", positive=True),
    "gap_bore": _Range("bore"),
    "length": _SIZE,
    "gap_length": _SIZE,
    "light_path": _SIZE,
    "bend_radius": _Range(positive=True, high=ANY, unit="m"),
    "particle_diameter": _Range("particle diameter", positive=True),
    **dict.fromkeys(("volume", "washout_volume", "head_volume"), _Range("volume")),
    "sigma": _Range("duration"),
    **dict.fromkeys(("time_constant", "moving_average", "noise_time_constant"), _TIME),
    "interval": _Range(positive=True, high=ANY, unit="s"),
    "tanks": _Range(low=1.0, high=ANY),
    **dict.fromkeys(("unswept", "porosity", "external_porosity", "core_ratio", "share"), _SHARE),
    **dict.fromkeys(("exchange", "mass_transfer_rate", "capacity", "noise"), _Range(high=ANY)),
    "plates": _Range(positive=True, high=ANY),
    "flow_rate": _Range("flow rate", positive=True),
    "diffusivity": _Range(positive=True, high=ANY, unit="m^2/s"),
    "viscosity": _Range(positive=True, high=ANY, unit="Pa s"),
    "density": _Range(positive=True, high=ANY, unit="kg/m^3"),
    "temperature": _Range(positive=True, high=ANY, unit="K"),
}
"""Fields that are looked at, by name."""
LESS = {0.0: "below zero", 1.0: "below one"}


def checked(part: Any, needed: Collection[str] = (), name: str = "") -> None:
    """Refuse numbers that no such object has.

    ``needed``: fields that may not be NaN, beside those without a default. ``name``: what it goes
    by where it has no name of its own. Raises PartError.
    """
    for key, demanded in _looked_at(type(part)):  # type: ignore[arg-type]
        if not _sound(getattr(part, key), RANGES[key], demanded or key in needed):
            where = f"{name or part.name}: {key}"
            _refuse(where, RANGES[key], getattr(part, key), demanded or key in needed)


@cache
def _looked_at(kind: type) -> tuple[tuple[str, bool], ...]:
    """Fields that are looked at, and whether they may not be NaN: without a default, or with one
    that is a number."""
    return tuple(
        (
            field.name,
            field.default is MISSING
            or (isinstance(field.default, float) and field.default == field.default),
        )
        for field in fields(kind)
        if field.name in RANGES
    )


def _sound(value: Any, row: _Range, demanded: bool) -> bool:
    """Whether a value is one that the field can have; quick, since studies make thousands."""
    if not isinstance(value, float | int | np.ndarray | np.number):
        return False
    low, high = _ends(value)
    if low > high:  # all NaN
        return not demanded
    if demanded and isinstance(value, np.ndarray) and np.isnan(value).any():
        return False
    return (low > row.low if row.positive else low >= row.low) and high <= _most(row)


def _most(row: _Range) -> float:
    return KINDS[row.kind].greatest if row.high is None else row.high


def stretches(part: Any, bends: tuple[tuple[float, float, bool], ...]) -> None:
    """Refuse stretches of a tube that are none: (length m, radius m, turned). Raises PartError."""
    for one in bends:
        if not (isinstance(one, tuple) and len(one) == 3):
            raise PartError(
                f"{part.name}: bends: expected stretches of length m, radius m and whether turned, "
                f"found {str(one)[:40]!r}; write (0.06, 0.015, False)"
            )
        if not (one[0] > 0 and one[1] > 0):
            raise PartError(
                f"{part.name}: bends: expected a length and a radius above zero, found "
                f"{one[0]:g} and {one[1]:g}; correct them ({UNITS})"
            )


def _refuse(where: str, row: _Range, value: Any, demanded: bool) -> None:
    """Say what is wrong; raises PartError."""
    unit = KINDS[row.kind].unit if row.kind else row.unit
    where = f"{where}: expected a number or a numpy array, {unit}, found"
    if isinstance(value, str | bytes | list | tuple | dict) or value is None:
        raise PartError(f"{where} a {type(value).__name__}; {UNITS}")
    numbers = np.asarray(value, dtype=float)
    if demanded and np.isnan(numbers).any():
        raise PartError(f"{where} NaN; give it")
    low, high = _ends(numbers)
    if low < row.low:
        raise PartError(f"{where} {low:g}, which is {LESS[row.low]}; correct it")
    if row.positive and low <= row.low:
        raise PartError(f"{where} {low:g}; give more than none")
    if high > _most(row):
        size = f", which is {show(high, row.kind)}: more than any" if row.kind else ""
        limit = UNITS if row.kind else f"give {_most(row):g} or less"
        raise PartError(f"{where} {high:g}{size}; {limit}")


def _ends(value: Any) -> tuple[float, float]:
    """Least and greatest, infinite the wrong way round where all are NaN."""
    if not isinstance(value, np.ndarray):
        number = float(value)
        return (number, number) if number == number else (np.inf, -np.inf)
    value = np.asarray(value, dtype=float)
    low, high = float(value.min(initial=np.inf)), float(value.max(initial=-np.inf))
    if low == low:
        return low, high
    known = value[~np.isnan(value)]
    return float(known.min(initial=np.inf)), float(known.max(initial=-np.inf))


def one_of(part: Any, name: str, known: Collection[str]) -> None:
    """Refuse a word that a field does not know; raises PartError."""
    found = getattr(part, name)
    if found not in known:
        raise PartError(
            f"{part.name}: {name}: expected {' or '.join(known)}, found {str(found)[:40]!r}; "
            "write one of them"
        )
