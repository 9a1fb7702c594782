"""What is done to a signal before anything is read off it; a simulated one is treated alike."""

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tailrace.measurements.baseline import Kind, level, smooth_baseline
from tailrace.measurements.evening import Even
from tailrace.measurements.noise import Noise
from tailrace.measurements.spots import Spot
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band

DEGREE = 4
"""Of the polynomials of the smoothing (Savitzky and Golay, Anal. Chem. 36 (1964) 1627; from
memory): they keep the moments of a peak up to the fifth."""
LONGEST_WAVE = 6.0
"""Windows of the widest peak; shorter waves are no part of a smooth baseline."""


@dataclass(frozen=True, kw_only=True)
class Treatment:
    """How one peak is cut out of a signal.

    Parameters
    ----------
    spot : Spot
        Window and blank stretches, in points of the signal.
    kind : str
        Of the baseline; one that is smooth is taken off before, and a constant here.
    start, step : float, s
        Of the signal.
    """

    spot: Spot
    kind: Kind
    start: float
    step: float

    @cached_property
    def _baseline(self) -> tuple[FloatArray, FloatArray]:
        first, last = self.spot.whole
        blank = np.zeros(last - first)
        for one, other in (self.spot.before, self.spot.behind):
            blank[one - first : other - first] = 1.0
        return level(self.kind, blank)

    @cached_property
    def _weights(self) -> FloatArray:
        """Of the points about each in the smoothing; one where nothing is smoothed."""
        width, (low, high) = 2 * self.spot.smoothing + 1, self.spot.window
        if width <= DEGREE + 1 or width > high - low:
            return np.ones(1)
        # a polynomial through the points about each, by least squares (Savitzky and Golay)
        powers = np.vander(np.linspace(-1, 1, width), DEGREE + 1, increasing=True)
        return np.asarray(np.linalg.pinv(powers)[0])

    def smoothed(self, values: FloatArray) -> FloatArray:
        """Points of the window, (lanes, points) array, any unit, smoothed as this peak is."""
        width = self._weights.size
        if width == 1:
            return values
        padded = np.pad(values, ((0, 0), (width // 2, width // 2)), mode="edge")
        return np.asarray(sliding_window_view(padded, width, axis=1) @ self._weights)

    def noise_left(self, noise: Noise) -> float:
        """Standard deviation, unit of the signal, of noise when it is smoothed as this peak is."""
        weights = self._weights
        apart = np.abs(np.subtract.outer(np.arange(weights.size), np.arange(weights.size)))
        share = float(weights @ noise.correlation**apart @ weights)
        return noise.deviation * math.sqrt(share)

    def cut(self, values: FloatArray) -> FloatArray:
        """Of rows of all points of the signal those of window and blank stretches."""
        return values[:, slice(*self.spot.whole)]

    def baseline(self, values: FloatArray) -> FloatArray:
        """Of rows as of ``cut``, (lanes, points) array, unit of the signal."""
        taken, basis = self._baseline
        return np.asarray((values @ taken) @ basis)

    def band(self, values: FloatArray) -> Band:
        """The peak without its baseline, from rows as of ``cut``."""
        first, (low, high) = self.spot.whole[0], self.spot.window
        values = self.smoothed((values - self.baseline(values))[:, low - first : high - first])
        lanes = values.shape[0]
        return Band(
            values,
            np.full(lanes, self.start + self.step * low),
            np.full(lanes, self.step),
        )


def treatment(even: Even, spot: Spot, kind: Kind) -> Treatment:
    """The treatment of a peak of a signal."""
    return Treatment(spot=spot, kind=kind, start=even.start, step=even.step)


def without_baseline(
    even: Even, kind: Kind, spots: list[Spot], noise: Noise, blank: FloatArray | None = None
) -> Even:
    """The signal without what is taken off all of it at once: a blank run, a smooth baseline.

    Parameters
    ----------
    blank : (points,) array, unit of the signal, optional
        A blank run at the same points.
    """
    values = even.values if blank is None else even.values - blank
    if kind == "smooth" and spots:
        longest = LONGEST_WAVE * max(one.window[1] - one.window[0] for one in spots)
        stiffness = (longest / (2 * np.pi)) ** 4
        values = values - smooth_baseline(values, stiffness, noise.deviation)
    return replace(even, values=values)
