"""Closed form of a tube that is bent or joined to one before it: Taylor and Aris as if it were
straight, exact cumulants."""

from dataclasses import replace

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Passages
from tailrace.parts.tube.bent import lattice, spectrum
from tailrace.parts.tube.bent.lanes import single, ways
from tailrace.parts.tube.bent.theory import chain_cumulants
from tailrace.parts.tube.part import Tube
from tailrace.parts.tube.theory import theory as straight_theory
from tailrace.signals.cumulants import Cumulants

MANY = 32
"""Lanes beyond the table from which on nodes cost less than each by itself."""


def theory(tube: Tube, stream: Stream, before: Passages = ()) -> Cumulants:
    """Cumulants that a tube adds.

    ``gaussian_variance`` is that of the long straight tube, which a bent one stays below.
    With one bend from the table of ``bent/spectrum.py``, beyond it of more than MANY lanes read
    between nodes, good to 1e-4 and 5e-4.
    ``before``: over the section: it adds what all of them do less what those before it do. None:
    the band enters it uniform.
    """
    straight = straight_theory(tube, stream)
    if not before and len(tube.stretches) == 1:
        dean, strength, length, residence = single(tube, stream)
        found, bent = np.array([straight.variance, straight.third]), strength > 0
        held = bent & spectrum.covers(dean, strength, length)
        rest, read = bent & ~held, [(held, spectrum.cumulants)]
        if np.count_nonzero(rest) > MANY and lattice.covers(
            dean[rest], strength[rest], length[rest]
        ):
            read.append((rest, lattice.cumulants))
        for which, cumulants in read:
            unit = (residence / length)[which] ** np.array([[2], [3]])
            found[:, which] = cumulants(dean[which], strength[which], length[which]).T * unit
        for lane in np.flatnonzero(rest) if len(read) == 1 else ():
            found[:, lane] = chain_cumulants(tuple(tube.chains(stream)[lane]))
        return replace(straight, variance=found[0], third=found[1])
    entering = ways(before, stream.lanes)
    own = ways([*before, (tube, stream)], stream.lanes)
    added = np.array(
        [
            np.subtract(chain_cumulants(whole), chain_cumulants(way))
            for way, whole in zip(entering, own, strict=True)
        ]
    )
    joined = np.array([bool(way) for way in entering]) | tube.bent_lanes(stream.lanes)
    return replace(
        straight,
        variance=np.where(joined, added[:, 0], straight.variance),
        third=np.where(joined, added[:, 1], straight.third),
    )
