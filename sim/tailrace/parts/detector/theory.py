"""Closed form of the detector's electronics."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.detector.part import Detector
from tailrace.signals.cumulants import Cumulants


def theory(detector: Detector, stream: Stream) -> Cumulants:
    """Time constant c adds c, c^2, 2 c^3; a mean over the time d before adds d/2, d^2/12, 0.

    Sternberg, Adv. Chromatogr. 2 (1966) 205. Points taken at a moment add nothing.
    """
    constant = np.broadcast_to(np.asarray(detector.time_constant, float), (stream.lanes,))
    width = np.asarray(detector.averaging, dtype=float)
    variance = constant**2 + np.square(width) / 12
    return Cumulants(
        mean=constant + width / 2,
        gaussian_variance=variance,
        variance=variance,
        third=2 * constant**3,
    )
