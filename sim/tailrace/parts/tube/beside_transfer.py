"""The transfer function of tubes a little beside one that is bent or takes over a profile."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Passages
from tailrace.parts.tube.bent.lanes import ways
from tailrace.parts.tube.beside import TubeBeside
from tailrace.parts.tube.transfer import straight
from tailrace.quantities.arrays import ComplexArray, FloatArray


def transfer(
    tube: TubeBeside, stream: Stream, omega: FloatArray, before: Passages = ()
) -> ComplexArray:
    """As of ``bent_transfer.py``, to first order; (lanes, frequencies) arrays, rad/s and 1."""
    found = np.empty(omega.shape, complex)
    each = zip(tube.about.of(tube.lane), ways([*before, (tube, stream)], len(omega)), strict=True)
    for lane, (about, chain) in enumerate(each):
        if about is None:
            ((one,), row) = chain, omega[[lane]]
            found[lane] = straight(np.array([one.length]), np.array([one.residence]), row)[0]
        else:
            found[lane] = about.response(chain, omega[lane])
    return found
