"""Samples or amounts scaled a little, so that their sums are what they should be."""

import numpy as np

from tailrace.quantities.arrays import FloatArray


def matched(amounts: FloatArray, places: FloatArray, wanted: FloatArray) -> FloatArray:
    """Amounts times the cubic in their places that gives them the wanted sums.

    Parameters
    ----------
    amounts, places : (amounts,) arrays, any unit and 1
        Places counted from about the mean, in about standard deviations.
    wanted : (4,) array, unit of the amounts
        Sums of amounts times powers 0 to 3 of the places; if they are nearly met, the cubic is
        nearly one.
    """
    powers = places ** np.arange(7)[:, None]
    sums = powers @ amounts
    scale = np.linalg.solve(sums[np.add.outer(np.arange(4), np.arange(4))], wanted)
    return np.asarray(amounts * (scale @ powers[:4]))
