"""What is read off a peak's outline: apex, widths, plates, tailing.

Between samples the outline is a cubic spline (error 5/384 of the step to the fourth power times
the fourth derivative). Times count from the start of the injection.
"""

import numpy as np
from scipy.interpolate import CubicSpline

from tailrace.errors import MeasureError

HALF_HEIGHT = 8 * np.log(2)
"""N = 8 ln 2 (t/W)^2 at half height; pharmacopoeias round to 5.54 (USP <621>, Ph. Eur. 2.2.46)."""
FIVE_SIGMA_LEVEL = float(np.exp(-3.125))
"""Height at which a Gaussian is five standard deviations wide."""


class Outline:
    """One lane's peak, joined by a cubic spline.

    Parameters
    ----------
    band : Band
    lane : int

    Raises
    ------
    MeasureError
        For a band with fewer than four samples, or with no positive one: record more densely.
    """

    def __init__(self, band, lane=0):
        one = band.lane(lane)
        values, step = one.values[0], one.step[0]
        if values.size < 4 or not values.max() > 0:
            raise MeasureError(
                f"a peak of {values.size} points cannot be measured: four or more are needed, "
                "use a shorter interval between points"
            )
        padded = np.concatenate([np.zeros(4), values, np.zeros(4)])
        times = one.start[0] + step * (np.arange(padded.size) - 4)
        self.curve = CubicSpline(times, padded)
        crests = self.curve.derivative().roots(extrapolate=False)
        crests = crests[np.isfinite(crests)]
        self.apex = float(crests[np.argmax(self.curve(crests))])
        self.height = float(self.curve(self.apex))

    def flanks(self, fraction):
        """Times at which the peak first falls to a fraction of its height.

        Parameters
        ----------
        fraction : float, 1

        Returns
        -------
        front, tail : float, s

        Raises
        ------
        MeasureError
            If a flank does not reach down so far.
        """
        roots = self.curve.solve(fraction * self.height, extrapolate=False)
        before, after = roots[roots < self.apex], roots[roots > self.apex]
        if not before.size or not after.size:
            raise MeasureError(
                f"the peak at {self.apex:.4g} s does not fall to {100 * fraction:.3g} % of its "
                "height on both sides: there is no such width"
            )
        return float(before[-1]), float(after[0])

    def width(self, fraction):
        """Full width at a fraction of the height. float, s; raises MeasureError."""
        front, tail = self.flanks(fraction)
        return tail - front

    def tailing(self, fraction=0.05):
        """Symmetry factor W / (2 f) (USP <621>, Ph. Eur. 2.2.46). float, 1."""
        front, tail = self.flanks(fraction)
        return (tail - front) / (2 * (self.apex - front))

    def asymmetry(self, fraction=0.10):
        """Tail half-width over front half-width, b/a. float, 1; raises MeasureError."""
        front, tail = self.flanks(fraction)
        return (tail - self.apex) / (self.apex - front)

    def plates(self):
        """Plates by width at half height, 8 ln 2 (t/W)^2. float, 1; raises MeasureError."""
        return HALF_HEIGHT * (self.apex / self.width(0.5)) ** 2

    def plates_five_sigma(self):
        """Plates by width at 4.4 % of the height, 25 (t/W)^2. float, 1; raises MeasureError."""
        return 25 * (self.apex / self.width(FIVE_SIGMA_LEVEL)) ** 2

    def plates_tangent(self):
        """Plates by the tangents at the inflection points, 16 (t/W)^2. float, 1."""
        slope = self.curve.derivative()
        turns = slope.derivative().roots(discontinuity=False, extrapolate=False)
        turns = turns[np.isfinite(turns)]
        front, tail = turns[turns < self.apex], turns[turns > self.apex]
        if not front.size or not tail.size:
            raise MeasureError("the peak has no inflection point on one side: no tangent plates")
        feet = [at - self.curve(at) / slope(at) for at in (front[-1], tail[0])]
        return 16 * (self.apex / (feet[1] - feet[0])) ** 2
