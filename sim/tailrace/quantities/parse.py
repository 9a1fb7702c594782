"""Text such as "0.12 mm" to a number in SI. The number and the unit are read apart."""

import math
import re
from decimal import Decimal
from fractions import Fraction
from functools import cache, lru_cache
from typing import Any

from tailrace.errors import QuantityError
from tailrace.quantities.kinds import Kind, kind_named

NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
TERM = r"[A-Za-zµμ°%Å]+(?:(?:\^|\*\*)?-?[1-9]|[²³])?"
UNIT = rf"{TERM}(?:\s*[*/·]\s*{TERM}|\s+{TERM})*"
# One digit of exponent and no brackets: a unit cannot be made into an endless computation.
QUANTITY = re.compile(rf"\s*({NUMBER})\s*({UNIT})?\s*")
INCHES = re.compile(rf"\s*({NUMBER})\s*(?:\"|''|″|”)\s*")
CELSIUS = ("C", "c", "oC", "Celsius", "deg", "degc")
FAHRENHEIT = ("F", "f", "oF", "Fahrenheit", "degf")
LONGEST, LEAST = 60, 1e-300


@cache
def unit_registry() -> Any:
    """Of pint: its units, and one of absorbance."""
    # Built on first use: it takes a third of a second, which `tailrace --help` must not wait for.
    from pint import UnitRegistry

    # Decimals, so that "2 uL" is the float nearest to 2e-9 and not one near to it.
    registry: Any = UnitRegistry(cache_folder=None, non_int_type=Decimal)
    # A dimension of its own, so that no other plain number passes for an absorbance.
    registry.define("light_absorbance = [light_absorbance] = AU")
    registry.define("@alias thou = mil")
    return registry


def pure(unit: Any) -> bool:
    """Whether no angle, count or share is in a unit: 20 rpm are no rate, 50 %*mm no length."""
    registry = unit_registry()
    roots = registry.Quantity(Decimal(1), unit).to_root_units().units
    return all(registry.get_dimensionality(one) for one in (*unit._units, *roots._units))


def shortened(value: object, longest: int = LONGEST) -> str:
    """Return what was found, as one short printable line.

    Parameters
    ----------
    value : object
    longest : int
        Characters kept.
    """
    if isinstance(value, str):
        text = '"' + "".join(c if c.isprintable() else "?" for c in value[: longest + 1]) + '"'
        return text if len(value) <= longest else text[:longest] + '…"'
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        # A text of a number with thousands of digits costs time and helps nobody.
        return str(value) if abs(value) < 10**longest else "a number of very many digits"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list" if value else "an empty list"
    return str(value)[:longest]


def parse(text: object, dimension: str) -> float:
    """Read a quantity.

    ``text``: a number and a unit, for example ``"0.12 mm"``. Units are case-sensitive.
    ``dimension``: the kind that is expected, a name in ``tailrace.quantities.kinds.KINDS``. Raises
    QuantityError: not a number with a unit, the wrong kind of unit, not finite, or out of the
    kind's bounds. The message says what was expected, what was found and what to write.

    Returns
    -------
    float
        In the kind's SI unit.
    """
    kind = kind_named(dimension)
    expected = f'expected {kind.name} with a unit such as "{kind.examples[0]}"'
    if isinstance(text, (int, float)) and not isinstance(text, bool) and abs(text) < math.inf:
        raise QuantityError(_bare(kind, expected, text))
    if not isinstance(text, str):
        raise QuantityError(f"{expected}, found {shortened(text)}; write a number and a unit")
    return _parsed(text, dimension)


@lru_cache(maxsize=4096)
def _parsed(text: str, dimension: str) -> float:
    """As ``parse``; studies read the same texts many times."""
    kind = kind_named(dimension)
    expected = f'expected {kind.name} with a unit such as "{kind.examples[0]}"'
    match = QUANTITY.fullmatch(text) if len(text) <= LONGEST else None
    if match is None:
        raise QuantityError(f"{expected}, found {shortened(text)}{_advice(kind, text)}")
    number, unit = match.groups()
    if unit is None:
        raise QuantityError(_bare(kind, expected, float(number)))
    value = _convert(kind, expected, text, number, unit)
    if not kind.lowest <= value <= kind.greatest:
        hint = _case_hint(kind, number, unit) or "check the number and the unit"
        raise QuantityError(
            f"expected {kind.name} from {kind.bounds}, found {shortened(text)}; {hint}"
        )
    return value


def parse_difference(text: object, dimension: str) -> float:
    """Read how far two quantities of a kind lie apart: a width, a deviation.

    ``text``: ``"2 um"``; of temperatures ``"0.5 K"`` or ``"0.5 degC"``, which are the same;
    ``dimension``: the kind, a name in ``tailrace.quantities.kinds.KINDS``. Raises QuantityError:
    not a number with a unit of this kind.

    Returns
    -------
    float
        In the kind's SI unit; any sign, and no bounds but that of a finite number.
    """
    kind = kind_named(dimension)
    unit = kind.units[-1][0] if kind.offset else kind.usual_unit
    expected = f'expected a deviation with a unit such as "1 {unit}"'
    match = QUANTITY.fullmatch(text) if isinstance(text, str) and len(text) <= LONGEST else None
    if match is None or match[2] is None:
        raise QuantityError(f"{expected}, found {shortened(text)}; write a number and a unit")
    return _convert(kind, expected, text, match[1], match[2], apart=True)


def _convert(
    kind: Kind, expected: str, text: object, number: str, unit: str, apart: bool = False
) -> float:
    """Return the value in SI, or say why the unit cannot be read.

    ``apart``: of a difference, for which the zero of a unit does not count, however it is spelt.
    """
    if not math.isfinite(float(number)):
        raise QuantityError(f"{expected}, found {shortened(text)}, which is not a finite number")
    usual = _usual(kind).get(unit)
    # not of 1e-999999999, which would be a fraction of so many digits
    if usual is not None and ("e" not in number.lower() or abs(float(number)) > LEAST):
        return float(Fraction(number) * usual[0] + (0 if apart else usual[1]))
    found = f"{expected}, found {shortened(text)}"
    registry = unit_registry()
    parsed = None
    try:
        # "m2/s" is common in print for "m^2/s".
        parsed = registry.parse_units(
            re.sub(r"(?<=[A-Za-z])(?=-?[0-9])", "^", unit.replace("·", "*"))
        )
        same = registry.get_dimensionality(parsed) == registry.get_dimensionality(kind.unit)
        same = same and pure(parsed)
    except (AttributeError, ValueError, TypeError, ArithmeticError, AssertionError):
        # pint's errors of unknown units are AttributeErrors, those of syntax ValueErrors.
        same = False
    if not same:
        hint = _case_hint(kind, number, unit) or _other_kind(kind, number, unit)
        if hint is None:
            hint = f"write it in {' or '.join(unit for unit, _ in kind.units)}"
        # Without its article.
        wanted = kind.name.partition(" ")[2]
        wrong = "is not a unit" if parsed is None else f"is not a unit of {wanted}"
        raise QuantityError(f'{found} ("{unit}" {wrong}); {hint}')
    value, zero = (
        registry.Quantity(Decimal(one), parsed).to(kind.unit).magnitude for one in (number, "0")
    )
    return float(value - zero if apart else value)


@cache
def _usual(kind: Kind) -> dict[str, tuple[Fraction, Fraction]]:
    """By a kind's own units, exactly: what one is in SI, and its zero. Others are pint's.

    Loading pint and its definitions takes longer than anything else that a small run does.
    """
    found = {kind.unit: (Fraction(1), Fraction(0))}
    for unit, one in kind.units:
        # one over a whole number, or a whole number, that the float stands for
        exact = Fraction(one).limit_denominator(10**13)
        if float(exact) == one:
            zero = kind.offset if unit == kind.usual_unit else 0.0
            found[unit] = (exact, Fraction(str(zero)))
    return found


def _bare(kind: Kind, expected: str, number: float) -> str:
    found = shortened(number)
    # no tube is a few micrometres wide; bores are sold in thousandths of an inch
    unit = "in" if "bore" in kind.name and 0 < float(number) < 0.03 else kind.usual_unit
    return f'{expected}, found {found} (a bare number); write "{found} {unit}" if {unit} is meant'


def _other_kind(kind: Kind, number: str, unit: str) -> str | None:
    """Advice where an interval is written as a rate, or a flow as a volume."""
    if kind.unit == "s" and unit in ("Hz", "hz", "HZ") and float(number) > 0:
        return f'write rate = "{number} Hz", or "{1 / float(number):g} s"'
    if kind.unit == "Hz" and unit in ("s", "ms", "min"):
        return f'write interval = "{number} {unit}"'
    if kind.unit == "m^3/s" and unit in ("mL", "ml", "uL", "ul", "µL"):
        return f'write "{number} {unit[:-1]}L/min" if that is meant'
    return None


def _case_hint(kind: Kind, number: str, unit: str) -> str | None:
    """Advice where only the case of the unit is wrong, or ``C`` and ``F`` stand for degrees."""
    if kind.offset and unit in CELSIUS:
        return f'write "{number} degC" for degrees Celsius'
    if kind.offset and unit in FAHRENHEIT:
        return f'write "{number} degF" for degrees Fahrenheit'
    for right, _ in kind.units:
        if right != unit and right.lower() == unit.lower():
            return f'units are case-sensitive: write "{number} {right}"'
    return None


def _advice(kind: Kind, text: str) -> str:
    if re.match(r"\s*[+-]?(nan|inf)", text, re.IGNORECASE):
        return ", which is not a finite number; write a number"
    inches = INCHES.fullmatch(text)
    if inches and kind.unit == "m":
        return f'; write "{inches[1]} in" for inches'
    if re.match(r"\s*[+-]?[0-9]+,[0-9]", text):
        return "; write the decimal sign as a point"
    return "; write a number, a space and a unit"
