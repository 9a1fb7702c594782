"""Closed form of a tube that is bent or joined to one before it: Taylor and Aris as if it were
straight, exact cumulants."""

from dataclasses import replace

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Passages
from tailrace.parts.tube.bent import between, spectrum
from tailrace.parts.tube.bent.lanes import single, ways
from tailrace.parts.tube.part import Tube
from tailrace.parts.tube.theory import theory as straight_theory
from tailrace.signals.cumulants import Cumulants


def theory(tube: Tube, stream: Stream, before: Passages = ()) -> Cumulants:
    """Cumulants that a tube adds.

    ``gaussian_variance`` is that of the long straight tube, which a bent one stays below.
    With one bend from the table of ``bent/spectrum.py``; beyond it solved for, or read between some
    that are, good to 1e-4 and 5e-4.
    ``before``: over the section: it adds what all of them do less what those before it do. None:
    the band enters it uniform.
    """
    straight = straight_theory(tube, stream)
    if not before and len(tube.stretches) == 1:
        dean, strength, length, residence = single(tube, stream)
        found, bent = np.array([straight.variance, straight.third]), strength > 0
        held = bent & spectrum.covers(dean, strength, length)
        unit = (residence / length)[held] ** np.array([[2], [3]])
        read = spectrum.cumulants(dean[held], strength[held], length[held])
        found[:, held] = read.T * unit
        rest = np.flatnonzero(bent & ~held)
        if rest.size:
            chains = tube.chains(stream)
            found[:, rest] = between.cumulants([tuple(chains[lane]) for lane in rest]).T
        return replace(straight, variance=found[0], third=found[1])
    entering = ways(before, stream.lanes)
    own = ways([*before, (tube, stream)], stream.lanes)
    added = between.cumulants(own)
    if any(entering):
        added = added - between.cumulants(entering)
    joined = np.array([bool(way) for way in entering]) | tube.bent_lanes(stream.lanes)
    return replace(
        straight,
        variance=np.where(joined, added[:, 0], straight.variance),
        third=np.where(joined, added[:, 1], straight.third),
    )
