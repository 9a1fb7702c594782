"""Moments of a band: amount, mean, variance, third central moment."""

from dataclasses import dataclass

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band


@dataclass(frozen=True)
class Moments:
    """Moments of each lane.

    Parameters
    ----------
    area : (lanes,) array, 1
    mean : (lanes,) array, s
    variance : (lanes,) array, s^2
    third : (lanes,) array, s^3
        Third central moment, which is the third cumulant.
    """

    area: FloatArray
    mean: FloatArray
    variance: FloatArray
    third: FloatArray

    @property
    def rows(self) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """The four of them, to be taken apart and put together by lanes."""
        return self.area, self.mean, self.variance, self.third

    @property
    def skewness(self) -> FloatArray:
        """(lanes,) array, 1; NaN for a band without width."""
        return np.asarray(self.third / self._width() ** 1.5)

    @property
    def plates(self) -> FloatArray:
        """Mean squared over variance. (lanes,) array, 1; NaN for a band without width."""
        return np.asarray(self.mean**2 / self._width())

    def _width(self) -> FloatArray:
        return np.where(self.variance > 0, self.variance, np.nan)


def moments(band: Band) -> Moments:
    """Moments of a band by sums over its samples.

    Sums over equal steps converge faster than any power of the step for a smooth band.
    """
    area = band.area
    # times are counted from near the mean, lest the cubes lose digits
    offset = (
        np.arange(band.values.shape[1])
        - ((band.values @ np.arange(band.values.shape[1])) / band.values.sum(axis=1))[:, None]
    )
    weight = band.values / band.values.sum(axis=1, keepdims=True)
    shift = (weight * offset).sum(axis=1, keepdims=True)
    centred = offset - shift
    step = band.step
    return Moments(
        area=area,
        mean=band.start + step * (centred[:, 0] * -1),
        variance=step**2 * (weight * centred**2).sum(axis=1),
        third=step**3 * (weight * centred**3).sum(axis=1),
    )
