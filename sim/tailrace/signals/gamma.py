"""Stirred tanks in series: the gamma distribution, for a whole or fractional number of tanks."""

import numpy as np
from scipy.special import gammainccinv, gammaln, xlogy

from tailrace.quantities.arrays import FloatArray, Number
from tailrace.signals.band import Band
from tailrace.signals.response import passed


def through_tanks(
    band: Band, residence: Number, tanks: float, truncation: float, read_mean: bool = False
) -> Band:
    """Send a band through equal stirred tanks, exactly for the cubic that joins its samples.

    The response of n tanks with total residence T is the gamma density t^(n-1) exp(-t/c) / c^n
    with c = T/n (MacMullin and Weber, Trans. AIChE 31 (1935) 409).

    Parameters
    ----------
    band : Band
    residence : (lanes,) array, s
        Of all tanks; zero passes the band unchanged.
    tanks : float, 1
        1 or more.
    truncation : float, 1
        Share of the response that may be cut off at its end.
    read_mean : bool
        Mean over the tanks in place of the liquid that leaves the last; whole ``tanks`` only.

    Returns
    -------
    Band
    """
    turnover = np.maximum(np.broadcast_to(residence, (band.lanes,)) / tanks, 1e-9 * band.step)
    orders = np.arange(1, round(tanks) + 1) if read_mean else np.array([float(tanks)])

    def density(times: FloatArray) -> FloatArray:
        reduced = times / turnover[:, None]
        total = np.zeros_like(reduced)
        for order in orders:
            total += np.exp(xlogy(order - 1, reduced) - reduced - gammaln(order))
        return np.asarray(total / (turnover[:, None] * len(orders)))

    end = turnover * gammainccinv(orders[-1], truncation)
    rooted = not float(tanks).is_integer()
    return passed(band, density, np.zeros(band.lanes), end, turnover, rooted)
