"""Closed form of a flow cell: cumulants of tanks in series, of their mean, or of a plug."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.cell.part import Cell
from tailrace.signals.cumulants import Cumulants


def theory(cell: Cell, stream: Stream) -> Cumulants:
    """Cumulants of what the light beam sees.

    Read at the outlet: T, T^2/n, 2 T^3/n^2 of n tanks with total residence T (MacMullin and
    Weber, Trans. AIChE 31 (1935) 409). Read as the mean over the tanks: the response is the mean
    of gamma densities of order 1 to n, whose raw moments with c = T/n are c (n + 1)/2,
    c^2 (n + 1)(n + 2)/3 and c^3 (n + 1)(n + 2)(n + 3)/4; for many tanks this is the plug of
    variance T^2/12 that Sternberg, Adv. Chromatogr. 2 (1966) 205, gives for cell averaging, which
    is what is read along the axis.
    """
    residence = np.asarray(cell.residence(stream), dtype=float)
    n = cell.tanks
    if cell.read == "axis":
        mean, variance, third = residence / 2, residence**2 / 12, np.zeros_like(residence)
    elif cell.read == "outlet":
        mean, variance, third = residence, residence**2 / n, 2 * residence**3 / n**2
    else:
        c = residence / n
        mean = c * (n + 1) / 2
        second = c**2 * (n + 1) * (n + 2) / 3
        raw_third = c**3 * (n + 1) * (n + 2) * (n + 3) / 4
        variance = second - mean**2
        third = raw_third - 3 * mean * second + 2 * mean**3
    return Cumulants(mean=mean, gaussian_variance=variance, variance=variance, third=third)
