"""``Band``: what travels. Concentration against time, many lanes side by side."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Band:
    """Equally spaced samples of a signal, one start and one step a lane.

    Sums over the samples stand for integrals over time; lanes shorter than others end in zeros.

    Parameters
    ----------
    values : (lanes, times) array, 1/s
        Amount per time over the amount injected: an intact band has area one.
    start : (lanes,) array, s
        Time of the first sample, from the start of the injection.
    step : (lanes,) array, s
    """

    values: np.ndarray
    start: np.ndarray
    step: np.ndarray

    @property
    def lanes(self) -> int:
        """Number of lanes."""
        return self.values.shape[0]

    @property
    def times(self) -> np.ndarray:
        """(lanes, times) array, s: the time of each sample."""
        return self.start[:, None] + self.step[:, None] * np.arange(self.values.shape[1])

    @property
    def area(self) -> np.ndarray:
        """(lanes,) array, 1: the amount in the band."""
        return self.values.sum(axis=1) * self.step

    def lane(self, index) -> "Band":
        """One lane as a band of its own, without the zeros at its end."""
        row = self.values[index]
        filled = np.flatnonzero(row)
        last = filled[-1] + 1 if filled.size else 1
        pick = slice(index, index + 1)
        return Band(row[None, :last].copy(), self.start[pick].copy(), self.step[pick].copy())
