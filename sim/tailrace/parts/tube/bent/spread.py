"""Variance and third cumulant all over a box of chains: polynomials through those solved for."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from tailrace.parts.tube.bent.box import Box
from tailrace.parts.tube.bent.leja import MOST_NODES, SHARED, Degrees, Polynomial, fitted, points
from tailrace.parts.tube.bent.theory import chain_cumulants
from tailrace.quantities.arrays import FloatArray

SETTLED, SKEWED = 2e-5, 5.0
"""Change by the last degrees of ln variance, and of skewness over the second."""


def cumulants(box: Box, places: FloatArray) -> FloatArray:
    """Variance and third cumulant at (lanes, directions) places, of a residence of 1.

    (lanes, 2) array, 1; good to 1e-4 and 5e-4. Raises AccuracyError as ``chain_cumulants``.
    """
    logarithm, skewness = _spread(box).at(places).T
    variance = np.exp(logarithm)
    return np.stack([variance, SKEWED * skewness * variance**1.5], axis=1)


@lru_cache(maxsize=256)
def _spread(box: Box) -> Polynomial:
    """ln variance, and skewness over SKEWED, of a residence of 1."""

    def solved(key: tuple[str, Box, Degrees]) -> FloatArray:
        variance, third = chain_cumulants(box.chain([points()[one] for one in key[-1]]))
        return np.array([np.log(variance), third / variance**1.5 / SKEWED])

    def of(degrees: Sequence[Degrees]) -> list[FloatArray]:
        return SHARED.all([("cumulants", box, one) for one in degrees], solved)

    return fitted(box.directions, of, lambda term: np.abs(term).max(), SETTLED, MOST_NODES)
