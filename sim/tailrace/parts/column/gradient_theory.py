"""Closed form of a column run with a gradient: retention and peak compression."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.column.gradient import MigrationColumn
from tailrace.signals.cumulants import Cumulants

SAME = 1e-6
"""Relative difference of two numbers of plates that count as one."""


def theory(column: MigrationColumn, stream: Stream) -> Cumulants:
    """Mean and variance of a narrow band that enters at time zero.

    variance = (t0 k_leaving)^2 / N times the mean of (1 + 1/k)^2 along the column. For one
    straight gradient from the start this is (t0 (1 + k))^2 / N times the compression
    (1 + p + p^2/3) / (1 + p)^2 of Poppe, Paanakker and Bronckhorst, J. Chromatogr. 204 (1981) 77;
    a stretch of constant composition before it enters as in the review of Hao, Liu and Shen,
    Chin. J. Chromatogr. 39 (2021) 10 (doi 10.3724/SP.J.1123.2020.07042). ``gaussian_variance``
    takes the plates at the leaving k throughout; ``variance`` is NaN where the plates depend on
    k, since then no closed form is known. So is the third cumulant. Each head adds the variance
    of a stirred tank, the one before the bed as far as it passes the gradient; a tail of the
    column's own adds that of one, too.
    """
    passed = column.elution(stream)
    dead_time = np.broadcast_to(column.bed_time(stream), passed.retention.shape)
    factors = np.stack([passed.leaving_factor, passed.entering_factor], axis=1)
    plates, first = column.plates_at(factors, stream.over(dead_time.size)).T
    variance = (dead_time * passed.leaving_factor) ** 2 * passed.stretching / plates
    variance = variance + (1 + passed.variance_passed) * np.square(column.head_time(stream))
    variance = variance + np.square(column.tail_time(stream))
    constant = np.abs(first / plates - 1) < SAME
    return Cumulants(
        mean=column.residence(stream),
        gaussian_variance=variance,
        variance=np.where(constant, variance, np.nan),
        third=np.full_like(variance, np.nan),
    )
