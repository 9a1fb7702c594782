"""Planning the time axis: how fine the first grid has to be."""

import numpy as np

from tailrace.parts.base import Passages
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution

DECIMATION = 2e-5
"""What doubling the step may change, relative to the band's L2 norm."""


def first_pulse(passages: Passages, resolution: Resolution) -> Band:
    """A unit pulse at time zero on the grid that the injection will be written on.

    The grid resolves the injected band and what the first part of the path makes of its edges, but
    no detail that this part smooths away: a narrower injection keeps its moments all the same.
    Behind each part the step is doubled as often as the band's shape allows (``decimated``).

    Parameters
    ----------
    passages : list of (part, Stream)
    """
    (first, stream), *path = passages
    lanes = stream.lanes
    step, edged = first.detail(stream), first.edged
    if first.injects and path:
        first, stream = path[0]
    step = np.asarray(first.first_step(step, edged, stream))
    step = np.broadcast_to(step / resolution.refinement, (lanes,))
    return Band(1 / step[:, None], np.zeros(lanes), step)
