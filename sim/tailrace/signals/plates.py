"""A packed bed in equilibrium: convection with dispersion, an inverse Gaussian."""

import numpy as np

from tailrace.quantities.arrays import FloatArray, Number
from tailrace.signals.band import Band
from tailrace.signals.response import passed


def through_plates(band: Band, retention: Number, plates: Number, truncation: float) -> Band:
    """Send a band through a linear bed whose exchange is at once in equilibrium.

    The impulse response of convection with dispersion on a half-infinite column (Lapidus and
    Amundson, J. Phys. Chem. 56 (1952) 984) is an inverse Gaussian density: with retention time t0
    and N plates, sqrt(N t0 / (2 pi t^3)) exp(-N (t - t0)^2 / (2 t0 t)).

    Parameters
    ----------
    band : Band
    retention : scalar or (lanes,) array, s
    plates : scalar or (lanes,) array, 1
    truncation : float, 1
        Share of the response that may be cut off at its ends.
    """
    retention = np.broadcast_to(np.asarray(retention, dtype=float), (band.lanes,))
    plates = np.broadcast_to(np.asarray(plates, dtype=float), (band.lanes,))

    def density(times: FloatArray) -> FloatArray:
        mean, n = retention[:, None], plates[:, None]
        safe = np.maximum(times, 1e-6 * mean)
        exponent = -n * (safe - mean) ** 2 / (2 * mean * safe)
        return np.asarray(np.sqrt(n * mean / (2 * np.pi * safe**3)) * np.exp(exponent))

    # outside these bounds the exponent is below log(truncation)
    reach = 1 - np.log(truncation) / plates
    swing = np.sqrt(reach**2 - 1)
    begin, end = retention * (reach - swing), retention * (reach + swing)
    return passed(band, density, begin, end, retention / np.sqrt(plates))
