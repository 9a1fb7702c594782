"""A quadratic stand-in for the journeys: it proposes where to look, and decides nothing."""

import numpy as np

from tailrace.quantities.arrays import FloatArray

MOST_WITH_PRODUCTS = 40
"""Inputs; with more, products of two are left out."""
RIDGE = 1e-8


class Emulator:
    """Least squares with a polynomial of second degree in the inputs.

    Parameters
    ----------
    inputs : (samples, inputs) array, any units
    values : (outcomes, samples) array, any units
        NaN: the sample is left out of this outcome.
    """

    def __init__(self, inputs: FloatArray, values: FloatArray) -> None:
        self._middle = inputs.mean(axis=0)
        size = inputs.std(axis=0)
        self._size = np.where(size > 0, size, 1.0)
        terms = self._terms(inputs)
        self._weights = np.array([_fit(terms, one) for one in values])

    def __call__(self, inputs: FloatArray) -> FloatArray:
        """(outcomes, samples) array at other (samples, inputs) values of the inputs, any units."""
        return np.asarray(self._weights @ self._terms(inputs).T)

    def pulls(self) -> FloatArray:
        """What one standard deviation of each input does to each metric, near the middle.

        (outcomes, inputs) array, any units
        """
        return self._weights[:, 1 : 1 + len(self._middle)]

    def _terms(self, inputs: FloatArray) -> FloatArray:
        scaled = (inputs - self._middle) / self._size
        columns = [np.ones((len(scaled), 1)), scaled, scaled**2]
        if scaled.shape[1] <= MOST_WITH_PRODUCTS:
            one, other = np.triu_indices(scaled.shape[1], k=1)
            columns.append(scaled[:, one] * scaled[:, other])
        return np.concatenate(columns, axis=1)


def _fit(terms: FloatArray, values: FloatArray) -> FloatArray:
    there = np.isfinite(values)
    if not there.any():
        return np.full(terms.shape[1], np.nan)
    used = terms[there]
    square = used.T @ used
    square += RIDGE * np.trace(square) / len(square) * np.eye(len(square))
    return np.asarray(np.linalg.solve(square, used.T @ values[there]))
