"""SI values in the unit that the trade reads."""

from dataclasses import dataclass, replace
from typing import Any, overload

from tailrace.quantities.arrays import FloatArray, Number
from tailrace.quantities.kinds import KINDS
from tailrace.studies.improving.result import Improvement

PLAIN = {("1", "%"): 0.01, ("1/m^3", "1/mL"): 1e6}
"""Units for people that no kind of quantity has, by the SI unit, and what one of them is in it."""


@dataclass(frozen=True)
class Trade:
    """A unit to show values in.

    Parameters
    ----------
    unit : str
        Empty for plain numbers.
    size : float, SI
        What one of it is.
    offset : float, SI
        Its zero.
    """

    unit: str
    size: float = 1.0
    offset: float = 0.0

    @overload
    def of(self, value: float) -> float: ...
    @overload
    def of(self, value: FloatArray) -> FloatArray: ...
    def of(self, value: Number) -> Number:
        """A value, or an array of values, in this unit."""
        return (value - self.offset) / self.size

    @overload
    def span(self, difference: float) -> float: ...
    @overload
    def span(self, difference: FloatArray) -> FloatArray: ...
    def span(self, difference: Number) -> Number:
        """A difference, or an array of them, in this unit."""
        return difference / self.size

    def named(self, name: str) -> str:
        """``width of first, s``; a plain number goes by its name alone."""
        return f"{name}, {self.unit}" if self.unit else name


def trade(kind: str, unit: str) -> Trade:
    """The usual unit of a kind of quantity.

    ``kind``: a name in ``tailrace.quantities.kinds.KINDS``; any other: the SI unit stays; ``unit``:
    SI unit; "1" of a plain number.
    """
    if kind in KINDS:
        row = KINDS[kind]
        return Trade(*row.units[0], row.offset)
    return Trade("" if unit == "1" else unit)


def in_unit(unit: str, shown: str) -> float:
    """What one of a unit for people is in SI.

    ``unit``, ``shown``: SI unit, and the one for people. Raises KeyError where no kind of quantity
    has both.

    Returns
    -------
    float, ``unit``
    """
    if unit == shown:
        return 1.0
    known = {(row.unit, name): size for row in KINDS.values() for name, size in row.units}
    return (PLAIN | known)[unit, shown]


SCALED = {
    "combinations": ("value", "error", "ceiling", "theory"),
    "steps": (
        *("value", "error", "gain", "gain_error", "gain_low", "gain_high"),
        *("theory", "theory_gain"),
    ),
    "changes": (
        *("alone", "alone_error", "last", "last_error", "share", "share_error"),
        *("theory_alone", "tried_gain"),
    ),
    "expected": ("gain_low", "gain_high", "whole_low", "whole_high"),
}
"""Of an ``Improvement`` the fields that are in the unit of its aim, or hold rows with such."""


def for_people(found: Improvement) -> Improvement:
    """The same with the aim's metric in the unit for people, which the aim then names."""
    row = found.aim.row
    unit, shown = ("1", "%") if found.aim.columns else (row.unit, row.shown)
    if not shown or found.aim.unit or found.aim.relative:
        return found
    size = in_unit(unit, shown)

    def scaled(one: Any, names: tuple[str, ...]) -> Any:
        return replace(one, **{name: getattr(one, name) / size for name in names})

    groups: dict[str, Any] = {}
    for group, names in SCALED.items():
        held = getattr(found, group)
        if isinstance(held, tuple):
            groups[group] = tuple(scaled(one, names) for one in held)
        elif held is not None:
            groups[group] = scaled(held, names)
    return replace(found, aim=replace(found.aim, unit=shown), **groups)
