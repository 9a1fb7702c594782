"""Cumulants of tubes a little beside one that is bent or takes over a profile."""

from dataclasses import replace

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Passages
from tailrace.parts.tube.bent.lanes import ways
from tailrace.parts.tube.beside import TubeBeside
from tailrace.parts.tube.theory import theory as straight_theory
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.cumulants import Cumulants


def theory(tube: TubeBeside, stream: Stream, before: Passages = ()) -> Cumulants:
    """As of ``bent_theory.py``, to first order."""
    straight = straight_theory(tube, stream)
    own = _summed([*before, (tube, stream)])
    if before:
        own = own - _summed(before)
    return replace(straight, variance=own[0], third=own[1])


def _summed(passages: Passages) -> FloatArray:
    """Of tubes behind each other, from where the band was uniform. (2, lanes) array."""
    tube, stream = passages[-1]
    assert isinstance(tube, TubeBeside)
    plain = straight_theory(tube, stream)
    found = np.array([plain.variance, plain.third])
    each = zip(tube.about.of(tube.lane), ways(passages, stream.lanes), strict=True)
    for lane, (about, chain) in enumerate(each):
        if about is not None:
            found[:, lane] = about.added(chain)
    return found
