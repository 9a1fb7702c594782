"""Closed form of a column: the cumulants of flow with dispersion and first-order exchange."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.column.part import Column
from tailrace.signals.cumulants import Cumulants


def theory(column: Column, stream: Stream) -> Cumulants:
    """Cumulants of the bed and of two mixed heads; NaN where the column is overloaded.

    With s the variance of dispersion and retention time t, mobile time m, retention K and rate r of
    each kind of site (Lapidus and Amundson, J. Phys. Chem. 56 (1952) 984; Kucera, J. Chromatogr. 19
    (1965) 237; band given at the inlet, column long against its plates; with several kinds of sites
    by the same differentiation of the transfer function):

        variance = s + 2 m sum K / r ,
        third = 3 s^2 / t + 6 (s m / t) sum K / r + 6 m sum K / r^2 .

    In equilibrium the skewness is 3/sqrt(N). Of a column that tails by itself, an exponential of
    time constant a is within t and s: third = 3 (s - a^2)^2 / (t - a) + 2 a^3. Langmuir columns are
    not linear: no cumulants.
    """
    retention = np.asarray(column.retention_time(stream), dtype=float)
    dispersion, slow = column.variances(stream)
    mobile, held, rate = column.exchange(stream)
    tail = column.tail_time(stream)
    third = 3 * (dispersion - tail**2) ** 2 / (retention - tail) + 2 * tail**3
    third = third + 6 * dispersion * mobile * np.sum(held / rate, axis=0) / retention
    third = third + 6 * mobile * np.sum(held / rate**2, axis=0)
    head = column.head_time(stream)
    linear = np.where(np.asarray(column.loading(stream)) > 0, np.nan, 1.0)
    variance = dispersion + slow + 2 * head**2
    return Cumulants(
        mean=(retention + 2 * head) * linear,
        gaussian_variance=variance,
        variance=variance * linear,
        third=(third + 4 * head**3) * linear,
    )
