"""The baseline under a peak: constant, a line between blank ends, or one that bends slowly."""

from typing import Literal

import numpy as np

from tailrace.quantities.arrays import FloatArray

Kind = Literal["constant", "line", "smooth"]
KINDS: tuple[Kind, ...] = ("constant", "line", "smooth")
DOWN = 1e-3
"""Weight of points that stand out above the smooth baseline; those on it have 1."""
ROUNDS = 30


def level(kind: Kind, blank: FloatArray) -> tuple[FloatArray, FloatArray]:
    """A baseline through blank points: ``(values @ taken) @ basis``, linear in the signal.

    Parameters
    ----------
    kind : str
        ``line``; any other is a constant.
    blank : (points,) array, 1
        1 on blank points, 0 elsewhere.

    Returns
    -------
    taken : (points, terms) array, 1
    basis : (terms, points) array, 1
    """
    places = np.linspace(-1, 1, blank.size)
    basis = np.stack([np.ones_like(places), places][: 2 if kind == "line" else 1])
    held = basis * blank
    return np.asarray(held.T @ np.linalg.pinv(held @ basis.T)), basis


def smooth_baseline(values: FloatArray, stiffness: float, noise: float) -> FloatArray:
    """Asymmetric least squares: a curve that bends little, and does not follow what stands out.

    Minimises the weighted squares to the signal plus the stiffness times the squared second
    differences; points more than two standard deviations of the noise above it weigh ``DOWN``, so
    that noise alone does not pull it down. Eilers, Anal. Chem. 75 (2003) 3631; from memory.

    Parameters
    ----------
    values : (points,) array, unit of the signal
    stiffness : float, 1
        (length / 2 pi)^4 keeps waves longer than the length in points.
    noise : float, unit of the signal
    """
    from scipy.linalg import solveh_banded

    bands = _bending(values.size) * stiffness
    weights = np.ones(values.size)
    found = values
    for _ in range(ROUNDS):
        matrix = bands.copy()
        matrix[-1] += weights
        found = solveh_banded(matrix, weights * values)
        new = np.where(values - found > 2 * noise, DOWN, 1.0)
        if np.array_equal(new, weights):
            break
        weights = new
    return np.asarray(found)


def _bending(count: int) -> FloatArray:
    """Upper bands of the sum of squared second differences, (3, points) array, 1."""
    bands = np.zeros((3, count))
    for one, size in enumerate((1.0, -2.0, 1.0)):
        for other, more in enumerate((1.0, -2.0, 1.0)):
            if other >= one:
                row = 2 - (other - one)
                bands[row, other : count - 2 + other] += size * more
    return bands
