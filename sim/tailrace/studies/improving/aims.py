"""What is to become better, and what must not be exceeded meanwhile."""

from dataclasses import dataclass

NAN = float("nan")
AIMS = ("plates", "resolution", "tailing", "signal")
ORDERS = ("gain", "money", "effort")


@dataclass(frozen=True, kw_only=True)
class Aim:
    """One figure of merit.

    Parameters
    ----------
    key : str
        One of AIMS, as it was asked for.
    of : str
        Solute or pair ``a/b`` that was asked for; empty: the worst of all counts.
    figure : str
        What is told: ``plates``, ``peak capacity``, ``resolution``, ``tailing``,
        ``signal-to-noise ratio`` (2 H/h), ``signal-to-noise ratio over the start's``.
    remark : str
        Why another figure stands in for the one asked for; empty where none does.
    """

    key: str
    of: str
    figure: str
    remark: str = ""

    @property
    def sign(self) -> int:
        """1 where more is better, -1 where less is."""
        return -1 if self.key == "tailing" else 1


@dataclass(frozen=True, kw_only=True)
class Constraints:
    """What a combination has to keep to; NaN: anything goes.

    Parameters
    ----------
    pressure, cell_pressure : float, Pa
        At most, of the whole path and at the cell's inlet.
    signal, signal_to_noise : float, 1
        At least, over the start's, for every solute.
    budget : float, money
        At most.
    effort : float, s
        At most.
    """

    pressure: float = NAN
    cell_pressure: float = NAN
    signal: float = NAN
    signal_to_noise: float = NAN
    budget: float = NAN
    effort: float = NAN
