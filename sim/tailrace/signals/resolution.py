"""How finely, and by which method, a journey is computed."""

from dataclasses import dataclass, replace

SOLVERS = ("finite differences", "spectral")
"""Ways through a tube; every other part has one way."""
DEFAULT_ACCURACY = 1e-3


@dataclass(frozen=True, kw_only=True)
class Resolution:
    """One number that refines everything; each method divides its own grid by it.

    Parameters
    ----------
    refinement : float, 1
        1 is the default. 0.5 halves radial nodes, axial steps and time steps at once; since
        the methods are of fourth order (third along a tube), the error then grows ten to sixteen
        times.
    solver : str
        One of SOLVERS: how a band goes through tubes.
    truncation : float, 1
        Share of the amount that one part's time window may cut off at each end.
    """

    refinement: float = 1.0
    solver: str = SOLVERS[0]
    truncation: float = 1e-11

    @classmethod
    def for_accuracy(cls, accuracy: float, solver: str = SOLVERS[0]) -> "Resolution":
        """Choose the resolution for a relative L2 error of the signal behind a tube.

        Parameters
        ----------
        accuracy : float, 1
            Between 1e-6 and 0.1; 1e-3 is refinement 1.
        """
        return cls(refinement=(DEFAULT_ACCURACY / accuracy) ** 0.25, solver=solver)

    def coarser(self) -> "Resolution":
        """Half as fine: the second run from which the discretisation error is estimated."""
        return replace(self, refinement=self.refinement / 2)
