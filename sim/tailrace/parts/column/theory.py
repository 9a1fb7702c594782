"""Closed form of a column: the cumulants of flow with dispersion and first-order exchange."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.column.part import Column
from tailrace.signals.cumulants import Cumulants


def theory(column: Column, stream: Stream) -> Cumulants:
    """Cumulants of the bed and of two mixed heads; NaN where the column is overloaded.

    With s the variance of dispersion and retention time t, mobile time m, its retention K and
    rate r of the lumped exchange (Lapidus and Amundson, J. Phys. Chem. 56 (1952) 984; Kucera, J.
    Chromatogr. 19 (1965) 237; band given at the inlet, column long against its plates):

        variance = s + 2 m K / r ,   third = 3 s^2 / t + 6 s K / ((1 + K) r) + 6 m K / r^2 .

    In equilibrium the skewness is 3/sqrt(N). Langmuir columns are not linear: no cumulants.
    """
    retention = np.asarray(column.retention_time(stream), dtype=float)
    dispersion, slow = column.variances(stream)
    mobile, held, rate = column.exchange(stream)
    third = 3 * dispersion**2 / retention
    third = third + 6 * dispersion * held / ((1 + held) * rate) + 6 * mobile * held / rate**2
    head = column.head_time(stream)
    linear = np.where(np.asarray(column.loading(stream)) > 0, np.nan, 1.0)
    variance = dispersion + slow + 2 * head**2
    return Cumulants(
        mean=(retention + 2 * head) * linear,
        gaussian_variance=variance,
        variance=variance * linear,
        third=(third + 4 * head**3) * linear,
    )
