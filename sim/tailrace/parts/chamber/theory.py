"""Closed form of a chamber: the cumulants of tanks in series."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.chamber.part import Chamber
from tailrace.signals.cumulants import Cumulants


def theory(chamber: Chamber, stream: Stream) -> Cumulants:
    """Mean T, variance T^2/n, third cumulant 2 T^3/n^2 of n tanks with total residence T.

    MacMullin and Weber, Trans. AIChE 31 (1935) 409; one tank: Sternberg, Adv. Chromatogr. 2
    (1966) 205. Exact for the model.
    """
    residence = np.asarray(chamber.residence(stream), dtype=float)
    variance = residence**2 / chamber.tanks
    return Cumulants(
        mean=residence,
        gaussian_variance=variance,
        variance=variance,
        third=2 * residence**3 / chamber.tanks**2,
    )
