"""Two independent solvers on the same journey: where they differ, and whether that was foreseen."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from tailrace.journey.discretisation import distance
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.result import Result
from tailrace.journey.travelling import travel
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.resolution import SOLVERS


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """What two solvers say of one journey.

    Parameters
    ----------
    differences, spectral : Result
        By finite differences and by the spectral solver.
    signal : dict of str to (lanes,) array, 1
        By part: L2 distance of the two bands behind it, over the L2 norm.
    variance : dict of str to (lanes,) array, 1
        By part: relative difference of the variances added; NaN where none is.
    recorded : dict of str to (lanes,) array
        By figure: finite differences less spectral, in the figure's unit.
    foreseen : dict of str to (lanes,) array
        By figure: the sum of the two error estimates.
    """

    differences: Result
    spectral: Result
    signal: dict[str, FloatArray]
    variance: dict[str, FloatArray]
    recorded: dict[str, FloatArray]
    foreseen: dict[str, FloatArray]

    @property
    def agree(self) -> bool:
        """Whether every recorded figure differs by no more than the estimates foresee."""
        return all(
            np.all((np.abs(by) <= self.foreseen[name]) | np.isnan(by))
            for name, by in self.recorded.items()
        )


def verify(
    itinerary: Itinerary, progress: Callable[[int, int], object] | None = None
) -> Comparison:
    """Make a journey with both solvers.

    Parameters
    ----------
    itinerary : Itinerary
        Its own choice of solver does not matter.
    progress : callable, optional
        As for ``travel``, once for each solver.

    Returns
    -------
    Comparison
    """
    one, other = (
        travel(
            replace(itinerary, resolution=replace(itinerary.resolution, solver=solver)), progress
        )
        for solver in SOLVERS
    )
    signal, variance = {}, {}
    for a, b in zip(one.parts, other.parts, strict=True):
        assert a.band is not None and b.band is not None
        signal[a.name] = distance(a.band, b.band)
        added = np.where(b.variance_simulated > 0, b.variance_simulated, np.nan)
        variance[a.name] = a.variance_simulated / added - 1
    names = [name for name in one.numerical_error if name in one.recorded]
    return Comparison(
        differences=one,
        spectral=other,
        signal=signal,
        variance=variance,
        recorded={name: one.recorded[name] - other.recorded[name] for name in names},
        foreseen={name: one.numerical_error[name] + other.numerical_error[name] for name in names},
    )
