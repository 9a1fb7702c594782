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
    """

    name: str = "detector"
    time_constant: float | np.ndarray = 0.0
    interval: float | np.ndarray = float("nan")
    averaged: bool = False

    kind = "detector"

    def residence(self, stream):
        """Zero: no liquid is held. Scalar, s."""
        return 0.0

    def pressure_drop(self, stream):
        """Zero. Scalar, Pa."""
        return 0.0
