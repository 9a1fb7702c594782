"""Closed form of a tee: the cumulants of one stirred tank."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.tee.part import Tee
from tailrace.signals.cumulants import Cumulants


def theory(tee: Tee, stream: Stream) -> Cumulants:
    """Mean T, variance T^2, third cumulant 2 T^3: as a chamber (MacMullin and Weber 1935)."""
    residence = np.asarray(tee.residence(stream), dtype=float)
    variance = residence**2
    return Cumulants(
        mean=residence, gaussian_variance=variance, variance=variance, third=2 * residence**3
    )
