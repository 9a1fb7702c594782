"""Planning the time axis: how fine the first grid has to be."""

import numpy as np

from tailrace.parts.base import Passages
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution

DECIMATION = 2e-5
"""What doubling the step may change, relative to the band."""


def first_pulse(passages: Passages, resolution: Resolution) -> Band:
    """A unit pulse at time zero on the grid that the injection will be written on.

    The grid resolves the injected band and what the first part of the path makes of its edges, but
    no detail that this part smooths away: a narrower injection keeps its moments all the same.
    Behind each part the step is doubled as often as the band's shape allows (``decimated``).

    Parameters
    ----------
    passages : list of (part, Stream)
    """
    (injection, stream), *path = passages
    first, behind = path[0] if injection.injects and path else passages[0]
    step = first.first_step(injection.detail(stream), injection.edged, behind)
    step = np.broadcast_to(np.asarray(step) / resolution.refinement, (stream.lanes,))
    if injection.edged:  # every edge on a sample
        length = np.broadcast_to(injection.duration(stream), step.shape)
        step = length / np.ceil(length / step - 1e-9)
    lanes = stream.lanes
    return Band(1 / step[:, None], np.zeros(lanes), step)
