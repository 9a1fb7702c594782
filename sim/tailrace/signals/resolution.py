"""How finely a journey is computed."""

from dataclasses import dataclass, replace


@dataclass(frozen=True, kw_only=True)
class Resolution:
    """One number that refines everything; each method divides its own grid by it.

    Parameters
    ----------
    fineness : float, 1
        1 is the default. 0.5 halves the number of rings, stations and instants at once; since
        every method is of fourth order, the error then grows about sixteen times.
    cut : float, 1
        Share of the amount that one part's time window may cut off at each end.
    """

    fineness: float = 1.0
    cut: float = 1e-11

    def coarser(self) -> "Resolution":
        """Half as fine: the second run from which the numerical error is estimated."""
        return replace(self, fineness=self.fineness / 2)
