"""The detector's electronics: a first-order filter, then points at an interval."""

from dataclasses import dataclass

import numpy as np

RISE_TIMES_IN_TIME_CONSTANTS = float(np.log(9.0))
"""Rise from 10 % to 90 % of a step, in time constants of a first-order filter."""


@dataclass(frozen=True, kw_only=True)
class Detector:
    """How the signal is smoothed and written down.

    Parameters
    ----------
    time_constant : scalar or (lanes,) array, s
        Of the first-order filter; 0 for none.
    interval : scalar or (lanes,) array, s
        Between recorded points; NaN: the signal is kept as finely as it was computed.
    averaged : bool
        True: each point is the mean over the interval before it; False: the value at its instant.
    noise : scalar or (lanes,) array, AU
        Peak to peak, as stated; NaN where it is not given.
    noise_time_constant : scalar or (lanes,) array, s
        At which the noise was stated, without averaging; NaN where it is not given.
    """

    name: str = "detector"
    time_constant: float | np.ndarray = 0.0
    interval: float | np.ndarray = float("nan")
    averaged: bool = False
    noise: float | np.ndarray = float("nan")
    noise_time_constant: float | np.ndarray = float("nan")

    kind = "detector"

    def residence(self, stream):
        """Zero: no liquid is held. Scalar, s."""
        return 0.0

    def pressure_drop(self, stream):
        """Zero. Scalar, Pa."""
        return 0.0

    def noise_bandwidth(self):
        """Equivalent bandwidth for white noise, scalar or (lanes,) array, Hz.

        A first-order filter of time constant c passes 1/(4c), a mean over the interval d passes
        1/(2d) (Papoulis, Probability, Random Variables and Stochastic Processes; from memory).
        One after the other they pass (1 - (1 - e^-a)/a)/(2d) with a = d/c: the variance of the
        mean of filtered noise, whose correlation falls as e^(-t/c). NaN where nothing limits it.
        """
        constant = np.asarray(self.time_constant, dtype=float)
        slow = np.where(constant > 0, constant, np.nan)
        if not self.averaged:
            return 1 / (4 * slow)
        ratio = self.interval / slow
        small = ratio < 1e-4
        safe = np.where(small, 1.0, ratio)
        share = np.where(small, ratio / 2 - ratio**2 / 6, 1 + np.expm1(-safe) / safe)
        return np.where(constant > 0, share, 1.0) / (2 * self.interval)

    def recorded_noise(self):
        """Noise of the recorded points, peak to peak. Scalar or (lanes,) array, AU.

        The stated noise times the root of the bandwidths' ratio: white noise. How the range grows
        with the number of points looked at is left out.
        """
        stated = 1 / (4 * np.asarray(self.noise_time_constant, dtype=float))
        return self.noise * np.sqrt(self.noise_bandwidth() / stated)
