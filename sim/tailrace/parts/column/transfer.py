"""The transfer function of a linear column: its heads as tanks, its bed in closed form."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.column.part import Column
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.spectra import by_lane, tanks


def transfer(column: Column, stream: Stream, omega: FloatArray) -> ComplexArray:
    """exp(N (1 - sqrt(1 + 2 z / N))) , z = p m (1 + sum K / (1 + p / r)) , p = i omega.

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
    tail, whole = column.tail_time(stream), column.retention_time(stream)
    mobile = mobile * (1 - tail / whole)
    plates = np.square(whole - tail) / (column.variances(stream)[0] - np.square(tail))
    p = 1j * omega
    sites = zip(held, rate, strict=True)
    late = p * by_lane(mobile) * (1 + sum(by_lane(k) / (1 + p * by_lane(1 / r)) for k, r in sites))
    # the root is written so that nothing cancels
    bed = np.exp(-2 * late / (1 + np.sqrt(1 + late * by_lane(2 / plates))))
    head = column.head_time(stream)
    if np.any(tail > 0):
        bed = bed * tanks(omega, tail, 1.0)
    return np.asarray(bed * tanks(omega, head, 1.0) ** 2 if np.any(head > 0) else bed)
