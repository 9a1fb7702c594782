"""Closed form of what leaves a loop."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.tube import theory as tube
from tailrace.parts.tube.loop.part import Loop
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.cumulants import Cumulants


def theory(loop: Loop, stream: Stream) -> Cumulants:
    """Cumulants about the switch of the valve.

    A tube full of sample that is rinsed lets out 1 - F(t), F the share of a narrow band that would
    have passed it by then; filled in part, the difference of two such. Its raw moments are those of
    the band, one order higher: the integral of t^n (1 - F) is E[t^(n+1)] / (n+1), by parts.
    """
    duration = np.broadcast_to(loop.duration(stream), (stream.lanes,))
    near, far = (_raw(loop, length, stream) for length in loop.ways())
    mean, second, gaussian, third = (
        (far[at] - near[at]) / (order * duration) for at, order in enumerate((2, 3, 3, 4))
    )
    return Cumulants(
        mean=mean,
        gaussian_variance=gaussian - mean**2,
        variance=second - mean**2,
        third=third - 3 * mean * second + 2 * mean**3,
    )


def _raw(loop: Loop, length: FloatArray, stream: Stream) -> tuple[FloatArray, ...]:
    """Raw moments of a band behind so much of the loop: the second; the third, exactly and if
    Gaussian; the fourth. (lanes,) arrays, s^2, s^3 and s^4."""
    lanes = (stream.lanes,)
    if not np.any(length > 0):
        return (np.zeros(lanes),) * 4
    part = loop.tube(length)
    cumulants = tube.theory(part, stream)
    mean, variance = cumulants.mean, cumulants.variance
    second = mean**2 + variance
    third = mean**3 + 3 * mean * variance
    fourier = np.broadcast_to(part.fourier_number(stream), lanes)
    fourth = tube.reduced_fourth(fourier) * (mean / fourier) ** 4
    fourth = (
        fourth + 3 * variance**2 + 4 * mean * cumulants.third + mean**2 * (6 * variance + mean**2)
    )
    rows = second, third + cumulants.third, third, fourth
    return tuple(np.broadcast_to(np.where(length > 0, one, 0.0), lanes) for one in rows)
