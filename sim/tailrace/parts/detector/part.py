"""The detector's electronics: a first-order filter, a moving average, points at an interval."""

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Doubt, Idle, Part
from tailrace.quantities.arrays import Number
from tailrace.quantities.kinds import show
from tailrace.signals.band import Band

RISE_TIMES_IN_TIME_CONSTANTS = float(np.log(9.0))
"""Rise from 10 % to 90 % of a step, in time constants of a first-order filter."""
FILTER = 0.1
"""s; a usual time constant (common practice, no source)."""
LEAST_POINTS = 10
"""Above half the height of a peak (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Detector(Part):
    """How the signal is smoothed and written down.

    Parameters
    ----------
    time_constant : scalar or (lanes,) array, s
        Of the first-order filter; 0 for none.
    interval : scalar or (lanes,) array, s
        Between recorded points; NaN: the signal is kept as finely as it was computed.
    averaged : bool
        True: each point is the mean over the interval before it; False: the value at its time.
    moving_average : scalar or (lanes,) array, s
        Width of a mean over the time before each moment, whatever the interval; 0 for none.
    sampling_phase : scalar or (lanes,) array, 1
        Share of an interval, from the start of the injection, at which points fall.
    noise : scalar or (lanes,) array, AU
        Peak to peak, as stated; NaN where it is not given.
    noise_time_constant : scalar or (lanes,) array, s
        At which the noise was stated, without averaging; NaN where it is not given.
    """

    name: str = "detector"
    time_constant: Number = 0.0
    interval: Number = float("nan")
    averaged: bool = False
    moving_average: Number = 0.0
    sampling_phase: Number = 0.0
    noise: Number = float("nan")
    noise_time_constant: Number = float("nan")

    kind = "detector"
    faults = ("time_constant", "rise_time")
    volume = float("nan")
    records = True
    carries_flow = False

    def residence(self, stream: Stream) -> Number:
        """Zero: no liquid is held. Scalar, s."""
        return 0.0

    @property
    def idle(self) -> bool:
        """Whether it neither filters nor takes points."""
        filtered = np.any(self.time_constant) or np.any(self.moving_average)
        return bool(not filtered and np.isnan(self.interval).all())

    @property
    def by_points(self) -> bool:
        """Whether the signal is written down at intervals."""
        return bool(np.isfinite(self.interval).all())

    @property
    def averaging(self) -> Number:
        """Width of the mean over the time before each moment. Scalar or (lanes,) array, s."""
        return self.interval if self.averaged else self.moving_average

    def noise_bandwidth(self) -> Number:
        """Equivalent bandwidth for white noise, scalar or (lanes,) array, Hz.

        A first-order filter of time constant c passes 1/(4c), a mean over the interval d passes
        1/(2d) (Papoulis, Probability, Random Variables and Stochastic Processes; from memory).
        One after the other they pass (1 - (1 - e^-a)/a)/(2d) with a = d/c: the variance of the
        mean of filtered noise, whose correlation falls as e^(-t/c). NaN where nothing limits it.
        """
        constant = np.asarray(self.time_constant, dtype=float)
        slow = np.where(constant > 0, constant, np.nan)
        if not np.any(np.asarray(self.averaging) > 0):
            return 1 / (4 * slow)
        width = np.maximum(np.asarray(self.averaging, dtype=float), 1e-12)
        ratio = width / slow
        small = ratio < 1e-4
        safe = np.where(small, 1.0, ratio)
        share = np.where(small, ratio / 2 - ratio**2 / 6, 1 + np.expm1(-safe) / safe)
        return np.asarray(np.where(constant > 0, share, 1.0) / (2 * width))

    def recorded_noise(self) -> Number:
        """Noise of the recorded points, peak to peak. Scalar or (lanes,) array, AU.

        The stated noise times the root of the bandwidths' ratio: white noise. How the range grows
        with the number of points looked at is left out.
        """
        stated = 1 / (4 * np.asarray(self.noise_time_constant, dtype=float))
        return self.noise * np.sqrt(self.noise_bandwidth() / stated)

    def cautions_behind(self, band: Band) -> list[str]:
        """Too few points on a peak."""
        if not self.by_points:
            return []
        above = band.values > 0.5 * band.values.max(axis=1, keepdims=True)
        points = above.sum(axis=1).min()
        if points >= LEAST_POINTS:
            return []
        return [
            f"{self.name}: points above half the height of the narrowest peak: "
            f"{points:.0f}; {LEAST_POINTS} or more are usual (common practice, no source), and "
            "with fewer the metrics depend on where the points happen to fall"
        ]

    def doubts(self, given: Collection[str], stream: Stream) -> list[Doubt]:
        """Its filter."""
        if {"time_constant", "rise_time", "moving_average", "averaged"} & set(given):
            return []
        return [
            Doubt(
                taken=f"no filter, and not one of {show(FILTER, 'duration')}",
                settled="the setting of the data system, or the peak at two settings",
                others=(replace(self, time_constant=FILTER),),
            )
        ]

    def assumptions(self, given: Collection[str]) -> list[str]:
        """Filter, points and noise, where they are not given."""
        averaged = np.any(np.asarray(self.averaging) > 0)
        found = []
        if not {"time_constant", "rise_time", "moving_average"} & set(given):
            found.append("no time constant given; the signal is not smoothed")
        if not {"interval", "rate"} & set(given):
            found.append("no interval given; recorded as finely as it is computed")
        if "noise" not in given:
            found.append(Idle("no noise given; none is computed"))
        elif averaged or np.any(self.time_constant != self.noise_time_constant):
            stated = show(float(np.max(self.noise_time_constant)), "duration")
            found.append(f"noise carried over from {stated} to this response as white noise")
        return found
