"""Stretches: what a bent tube is made of, one bend each, in the units of its own section."""

from dataclasses import dataclass

from tailrace.parts.tube.bent.flow import dean_flow


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """A length of tube with one bend radius, for one flow and one solute.

    Parameters
    ----------
    dean : float, 1
        (a w0/nu) sqrt(a/R), 0 where the stretch is straight.
    strength : float, 1
        C = dean^2 nu/D.
    length : float, 1
        X = pi D z/F.
    residence : float, s
    turned : bool
        Bends the other way than a stretch that is not: the outer side of one is the inner side of
        the other.
    """

    dean: float
    strength: float
    length: float
    residence: float
    turned: bool = False

    @property
    def radial_time(self) -> float:
        """a^2/D, s."""
        return self.residence / self.length

    @property
    def transit(self) -> float:
        """Time of the fastest streamline through the stretch, s."""
        return self.residence / dean_flow(self.dean).fastest


Chain = tuple[Stretch, ...]
"""Stretches behind each other; at each joint of two the profile is carried over."""
