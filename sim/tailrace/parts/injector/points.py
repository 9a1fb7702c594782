"""The points of a measured injection, and what they say by themselves."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.signals.matched import matched

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline, PchipInterpolator

UNEVEN = 3.0
"""Longest over shortest gap between points, from which on a spline might swing."""
ZEROS = 16
"""Points before and behind a signal: a spline forgets all but 1e-9 over them."""
LEAST_VARIANCE = 0.2
"""Over the square of the gap between points: of one point it is 0, of two equal ones 0.25."""


@dataclass(frozen=True, eq=False)
class Points:
    """Times (s), increasing, and heights (any unit) of a signal: (points,) arrays."""

    times: FloatArray
    heights: FloatArray

    @property
    def spans(self) -> FloatArray:
        """Time that each point stands for; beyond the ends points are taken to go on as zeros."""
        gaps = np.diff(self.times)
        return np.asarray((np.append(gaps[:1], gaps) + np.append(gaps, gaps[-1:])) / 2)

    @property
    def moments(self) -> tuple[float, float, float]:
        """Mean (s), variance (s^2) and third central moment (s^3); noise can spoil them."""
        share = self.heights * self.spans
        share = share / share.sum()
        mean = float(share @ self.times)
        variance, third = (float(share @ (self.times - mean) ** power) for power in (2, 3))
        return mean, variance, third

    def joined(self) -> "CubicSpline | PchipInterpolator":
        """The curve through the points, which comes from zero and goes back to it."""
        from scipy.interpolate import CubicSpline, PchipInterpolator

        gaps, ends = np.diff(self.times), np.arange(1, ZEROS + 1)
        before, after = self.times[0] - ends[::-1] * gaps[0], self.times[-1] + ends * gaps[-1]
        uneven = gaps.max() > UNEVEN * gaps.min()
        return (PchipInterpolator if uneven else CubicSpline)(
            np.concatenate([before, self.times, after]), np.pad(self.heights, ZEROS)
        )

    def matched(self, times: FloatArray, amounts: FloatArray) -> FloatArray:
        """Amounts times the cubic in time that gives them area one and the points' moments.

        times, amounts : (samples,) arrays, s and any unit
            Of a curve through the points: then the cubic is nearly one.
        """
        mean, variance, third = self.moments
        wanted = np.array([1.0, 0.0, 1.0, third / variance**1.5])
        return matched(amounts, (times - mean) / np.sqrt(variance), wanted)

    @property
    def width(self) -> float:
        """Standard deviation, s."""
        return float(np.sqrt(self.moments[1]))

    @property
    def problem(self) -> str:
        """Why no peak can be made of them: a sentence; empty if one can."""
        amounts = self.heights * self.spans
        if self.times.size < 2 or not amounts.sum() > 0:
            return "the injected signal has no area; give heights above zero at increasing times"
        gap = float(np.median(np.diff(self.times)))
        variance = self.moments[1]
        if variance < LEAST_VARIANCE * gap**2:
            return (
                "expected points that say how wide the peak is, found a variance of "
                f"{variance:.3g} s^2 with points {gap:.3g} s apart; give points closer "
                "together, or take off the baseline"
            )
        return ""
