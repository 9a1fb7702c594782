"""Planning the time axis: how fine the first grid has to be."""

import numpy as np

from tailrace.parts.base import Passages
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution

DECIMATION = 2e-5
"""What doubling the step may change, relative to the band's L2 norm."""
FEWEST_PER_PLUG = 4
"""Steps between edges on samples, however often the step is doubled."""

MOST_FINER = 1 << 12
"""Steps of the first grid in one that the injected band takes itself: about 260,000 points in a
plug. What passes a tube that much shorter than the plug is blurred there by less."""


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
    lanes = stream.lanes
    first, behind = path[0] if injection.injects and path else passages[0]
    step = first.first_step(injection.detail(stream), injection.edged, behind)
    step = np.maximum(step, np.divide(injection.detail(stream), MOST_FINER))
    step = np.minimum(step, injection.coarsest(stream))
    step = np.broadcast_to(step / resolution.refinement, (lanes,))
    if injection.edged:
        step = _meeting(np.broadcast_to(injection.duration(stream), (lanes,)), step)
    return Band(1 / step[:, None], np.zeros(lanes), step)


def _meeting(duration: FloatArray, step: FloatArray) -> FloatArray:
    """At most the step (s), so that edges fall on samples, after a few doublings still.

    A plug much briefer than what is resolved keeps the step, and its moments.
    """
    steps = np.maximum(duration / step, 1.0)
    twos = 2.0 ** np.maximum(np.floor(np.log2(steps / FEWEST_PER_PLUG)), 0.0)
    meeting = duration / (twos * np.ceil(steps / twos - 1e-9))
    return np.asarray(np.where(steps < FEWEST_PER_PLUG, step, meeting))
