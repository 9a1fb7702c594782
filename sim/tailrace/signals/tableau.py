"""Runge-Kutta methods as tableaux of their stage coefficients."""

from dataclasses import dataclass

import numpy as np

from tailrace.quantities.arrays import FloatArray


@dataclass(frozen=True, eq=False)
class Tableau:
    """Stage coefficients of one method (Butcher).

    Parameters
    ----------
    stages : (stages, stages) array, 1
        What each stage takes of every slope, over the step.
    weights : (stages,) array, 1
        What the step takes of every slope.
    """

    stages: FloatArray
    weights: FloatArray

    @property
    def times(self) -> FloatArray:
        """When each stage stands, over the step. (stages,) array, 1."""
        return np.asarray(self.stages.sum(axis=1))


GAMMA = 1.0 - np.sqrt(0.5)
SDIRK2 = Tableau(np.array([[GAMMA, 0.0], [1.0 - GAMMA, GAMMA]]), np.array([1.0 - GAMMA, GAMMA]))
"""L-stable, singly diagonally implicit, of second order; the last stage is the step itself
(Alexander, SIAM J. Numer. Anal. 14 (1977) 1006)."""

IMEX3_EXPLICIT = Tableau(
    np.array(
        [
            [0, 0, 0, 0, 0],
            [1 / 2, 0, 0, 0, 0],
            [11 / 18, 1 / 18, 0, 0, 0],
            [5 / 6, -5 / 6, 1 / 2, 0, 0],
            [1 / 4, 7 / 4, 3 / 4, -7 / 4, 0],
        ]
    ),
    np.array([1 / 4, 7 / 4, 3 / 4, -7 / 4, 0]),
)
IMEX3_IMPLICIT = Tableau(
    np.array(
        [
            [0, 0, 0, 0, 0],
            [0, 1 / 2, 0, 0, 0],
            [0, 1 / 6, 1 / 2, 0, 0],
            [0, -1 / 2, 1 / 2, 1 / 2, 0],
            [0, 3 / 2, -3 / 2, 1 / 2, 1 / 2],
        ]
    ),
    np.array([0, 3 / 2, -3 / 2, 1 / 2, 1 / 2]),
)
"""A pair of third order, the second L-stable; the last stage is the step itself (Ascher, Ruuth and
Spiteri, Appl. Numer. Math. 25 (1997) 151, scheme (4,4,3))."""

SSP3 = Tableau(np.array([[0, 0, 0], [1, 0, 0], [1 / 4, 1 / 4, 0]]), np.array([1 / 6, 1 / 6, 2 / 3]))
"""Explicit, of third order, each stage a mean of Euler steps (Shu and Osher, J. Comput. Phys. 77
(1988) 439)."""
