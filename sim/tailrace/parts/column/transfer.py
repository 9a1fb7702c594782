"""The transfer function of a linear column: its heads as tanks, its bed in closed form."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.column.part import Column
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.spectra import by_lane, tanks


def transfer(column: Column, stream: Stream, omega: FloatArray) -> ComplexArray:
    """exp(N (1 - sqrt(1 + 2 z / N))) , z = p m (1 + K / (1 + p / r)) , p = i omega.

    Flow with dispersion and first-order exchange, the band given at the inlet of a bed that is long
    against its plates (Lapidus and Amundson, J. Phys. Chem. 56 (1952) 984): N the plates of
    dispersion alone, m the mobile time, K its retention, r the rate, infinite in equilibrium.

    Parameters
    ----------
    omega : (lanes, frequencies) array, rad/s

    Returns
    -------
    (lanes, frequencies) complex array, 1
    """
    mobile, held, rate = column.exchange(stream)
    plates = np.square((1 + held) * mobile) / column.variances(stream)[0]
    p = 1j * omega
    if np.isinf(rate).all():
        late = p * by_lane(mobile * (1 + held))
    else:
        late = p * by_lane(mobile) * (1 + by_lane(held) / (1 + p * by_lane(1 / rate)))
    # the root is written so that nothing cancels
    bed = np.exp(-2 * late / (1 + np.sqrt(1 + late * by_lane(2 / plates))))
    head = column.head_time(stream)
    return np.asarray(bed * tanks(omega, head, 1.0) ** 2 if np.any(head > 0) else bed)
