"""Closed form of what leaves a loop."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.tube import theory as tube
from tailrace.parts.tube.loop.part import Loop
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.cumulants import Cumulants


def theory(loop: Loop, stream: Stream) -> Cumulants:
    """Mean and variance about the switch of the valve; the third cumulant is not known.

    A tube full of sample that is rinsed lets out 1 - F(t), F the share of a narrow band that would
    have passed it by then; filled in part, the difference of two such. Its raw moments are those of
    the band, one order higher: the integral of t^n (1 - F) is E[t^(n+1)] / (n+1), by parts.
    """
    duration = np.broadcast_to(loop.duration(stream), (stream.lanes,))
    first, last = loop.ways()
    near, far = (_raw(loop, length, stream) for length in (first, last))
    mean = (far[0] - near[0]) / (2 * duration)
    exact, gaussian = ((far[at] - near[at]) / (3 * duration) - mean**2 for at in (1, 2))
    return Cumulants(
        mean=mean,
        gaussian_variance=gaussian,
        variance=exact,
        third=np.full_like(mean, np.nan),
    )


def _raw(loop: Loop, length: FloatArray, stream: Stream) -> tuple[FloatArray, ...]:
    """Second raw moment of a band behind so much of the loop; the third, exactly and if Gaussian.

    (lanes,) arrays, s^2 and s^3.
    """
    lanes = (stream.lanes,)
    if not np.any(length > 0):
        return (np.zeros(lanes),) * 3
    said = tube.theory(loop.tube(length), stream)
    mean, variance = said.mean, said.variance
    second = mean**2 + variance
    third = mean**3 + 3 * mean * variance
    return tuple(np.broadcast_to(one, lanes) for one in (second, third + said.third, third))
