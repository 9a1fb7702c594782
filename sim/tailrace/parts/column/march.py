"""How a band goes through a linear column: exactly, by the response of flow with dispersion."""

import numpy as np

from tailrace.signals.response import passed


def march(column, stream, band, resolution):
    """Send a band through a column.

    The impulse response of convection with dispersion on a half-infinite column (Lapidus and
    Amundson, J. Phys. Chem. 56 (1952) 984) is an inverse Gaussian density: with retention time t0
    and N plates, sqrt(N t0 / (2 pi t^3)) exp(-N (t - t0)^2 / (2 t0 t)).

    Parameters
    ----------
    column : Column
    stream : Stream
    band : Band
    resolution : Resolution

    Returns
    -------
    Band
    """
    retention = np.broadcast_to(column.residence(stream), (band.lanes,))
    plates = np.broadcast_to(column.plate_number(stream), (band.lanes,))

    def density(times):
        mean, n = retention[:, None], plates[:, None]
        safe = np.maximum(times, 1e-6 * mean)
        exponent = -n * (safe - mean) ** 2 / (2 * mean * safe)
        return np.sqrt(n * mean / (2 * np.pi * safe**3)) * np.exp(exponent)

    # outside these bounds the exponent is below log(cut)
    reach = 1 - np.log(resolution.cut) / plates
    swing = np.sqrt(reach**2 - 1)
    begin, end = retention * (reach - swing), retention * (reach + swing)
    return passed(band, density, begin, end, retention / np.sqrt(plates))
