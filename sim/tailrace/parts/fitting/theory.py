"""Closed form of a joint's gap: one stirred volume."""

import numpy as np

from tailrace.signals.cumulants import Cumulants


def theory(fitting, stream) -> Cumulants:
    """Mean T, variance T^2, third cumulant 2 T^3 of a stirred volume with residence T.

    Sternberg, Adv. Chromatogr. 2 (1966) 205. A gap swept by a jet mixes less: an upper bound.
    """
    residence = np.asarray(fitting.residence(stream), dtype=float)
    return Cumulants(
        mean=residence,
        gaussian_variance=residence**2,
        variance=residence**2,
        third=2 * residence**3,
    )
