"""Every unit that ``parse`` reads, as numbers: for programs in other languages."""

import re
from typing import Any

from tailrace.quantities.parse import pure, unit_registry

DIMENSIONS = ("length", "time", "mass", "substance", "temperature", "light_absorbance", "current")
"""Of which units of quantities are made."""
SPELLED = re.compile(r"[A-Za-zµμ°%Å]+")

NO_UNIT = [1.0, 99.0]
"""Of a length to the 99th, which nothing is."""


def unit_table() -> dict[str, list[float]]:
    """By name: what one is in SI, then its exponents of DIMENSIONS, zeros at the end left out.

    ``NO_UNIT`` for what is a unit of something else, though it ends as a plural does.
    A temperature scale with a zero of its own has one number more: that zero, in K.
    """
    units = unit_registry()
    found = {}
    for name in units._units:
        row = _row(units, name) if SPELLED.fullmatch(name) else None
        if row is not None:
            found[name] = row
    # a unit of none of these, such as bps, is no plural of one of them
    others = [one for one in units._units if one.endswith("s") and one[:-1] in found]
    return found | {one: NO_UNIT for one in others if one not in found}


def prefixes() -> dict[str, float]:
    """By name, what each stands for."""
    known = unit_registry()._prefixes
    return {name: float(one.converter.scale) for name, one in known.items() if name}


def _row(units: Any, name: str) -> list[float] | None:
    try:
        unit = units.parse_units(name)
        dimensions = {str(key).strip("[]"): float(n) for key, n in unit.dimensionality.items()}
        zero, one = (float(units.Quantity(n, unit).to_base_units().magnitude) for n in (0, 1))
    except Exception:  # a definition of pint's own that is no unit, or one with a logarithm
        return None
    if set(dimensions) - set(DIMENSIONS) or not pure(unit):
        return None
    exponents = [dimensions.get(one, 0.0) for one in DIMENSIONS]
    if zero:
        return [one - zero, *exponents, zero]
    while exponents and exponents[-1] == 0:
        exponents.pop()
    return [one, *exponents]
