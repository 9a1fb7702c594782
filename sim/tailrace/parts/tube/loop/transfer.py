"""The transfer function of what leaves a loop: of the ways of its first and last sample."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.tube import transfer as tube
from tailrace.parts.tube.loop.part import Loop
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.spectra import by_lane


def transfer(loop: Loop, stream: Stream, omega: FloatArray) -> ComplexArray:
    """(H_a - H_b) / (i omega T), as ``march.py`` has it in time; (lanes, frequencies) arrays.

    H_a and H_b: of the ways of the first and of the last sample; T: time of the filling.
    """
    lanes = (omega.shape[0],)
    first, last = (np.broadcast_to(one, lanes) for one in loop.ways())
    far = tube.transfer(loop.tube(last), stream, omega)
    near, passed = np.ones_like(far), first > 0
    if passed.any():
        some = loop.tube(np.where(passed, first, last))
        near = np.where(passed[:, None], tube.transfer(some, stream, omega), near)
    late = omega * by_lane(np.broadcast_to(loop.duration(stream), lanes))
    return np.asarray(np.where(late > 0, (near - far) / (1j * np.where(late > 0, late, 1.0)), 1.0))
