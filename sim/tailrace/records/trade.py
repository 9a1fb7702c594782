"""SI values in the unit that the trade reads."""

from dataclasses import dataclass

from tailrace.quantities.kinds import KINDS


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

    def of(self, value):
        """A value, or an array of values, in this unit."""
        return (value - self.offset) / self.size

    def span(self, difference):
        """A difference, or an array of them, in this unit."""
        return difference / self.size

    def named(self, name) -> str:
        """``width of first, s``; a plain number goes by its name alone."""
        return f"{name}, {self.unit}" if self.unit else name


def trade(kind, unit) -> Trade:
    """The usual unit of a kind of quantity.

    Parameters
    ----------
    kind : str
        A name in ``tailrace.quantities.kinds.KINDS``; any other: the SI unit stays.
    unit : str
        SI unit; "1" of a plain number.

    Returns
    -------
    Trade
    """
    if kind in KINDS:
        row = KINDS[kind]
        return Trade(*row.units[0], row.offset)
    return Trade("" if unit == "1" else unit)
