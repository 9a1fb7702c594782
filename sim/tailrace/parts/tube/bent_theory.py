"""Closed form of a tube that is bent: Taylor and Aris as if it were straight, exact cumulants."""

from dataclasses import replace

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.tube.bent.lanes import chains
from tailrace.parts.tube.bent.theory import chain_cumulants
from tailrace.parts.tube.part import Tube
from tailrace.parts.tube.theory import theory as straight_theory
from tailrace.signals.cumulants import Cumulants


def theory(tube: Tube, stream: Stream) -> Cumulants:
    """Cumulants that a bent tube adds to a band that enters uniform over the section.

    ``gaussian_variance`` is that of the long straight tube, which a bent one stays below.
    """
    straight = straight_theory(tube, stream)
    rows = np.array([chain_cumulants(chain) for chain in chains(tube, stream)])
    bent = tube.bent_lanes(stream.lanes)
    return replace(
        straight,
        variance=np.where(bent, rows[:, 0], straight.variance),
        third=np.where(bent, rows[:, 1], straight.third),
    )
