"""What leaves a loop: by how much a band behind its last stretch lags behind one of its first."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.tube import march as tube
from tailrace.parts.tube.loop.part import Loop
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.signals.cubic import spread
from tailrace.signals.resolution import Resolution

CELL = np.array([-1, 13, 13, -1]) / 24
"""What is even between two grid points, shared out over four of them."""


def march(loop: Loop, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Write what leaves on the grid of ``band``, a unit pulse at time zero.

    (F_a - F_b) / T with F the share of a narrow band that has passed the way of the first (a) and
    of the last sample (b), and T the time in which the filling is pumped: the flow begins with the
    loop as it was filled, and what follows holds none. By finite differences whatever the solver:
    a pulse has no spectrum that ends.
    """
    first, last = (np.broadcast_to(one, (band.lanes,)) for one in loop.ways())
    far = tube.march(loop.tube(last), stream, band, resolution)
    near = band
    if np.any(first > 0):
        # a lane that passes nothing passes next to nothing
        passed = np.maximum(first, 1e-6 * last)
        near = tube.march(loop.tube(passed), stream, band, resolution)
    begins = np.floor(np.minimum(near.start, far.start) / band.step) - 1
    ends = max(float(np.max(one.times[:, -1] / band.step - begins)) for one in (near, far))
    count = int(ends) + 5
    amounts = _shared(near, begins, band.step, count) - _shared(far, begins, band.step, count)
    weights = np.stack([np.convolve(row, CELL) for row in amounts])
    duration = np.broadcast_to(loop.duration(stream), (band.lanes,))
    values = np.cumsum(weights, axis=1) / duration[:, None]
    return Band(values, (begins - 1) * band.step, band.step)


def _shared(band: Band, begins: FloatArray, step: FloatArray, count: int) -> FloatArray:
    """Amounts of a band on a grid that begins at these steps."""
    positions = band.times / step[:, None] - begins[:, None]
    return spread(positions, band.values * band.step[:, None], count)
