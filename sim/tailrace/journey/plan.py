"""Planning the time axis: how fine the first grid has to be."""

import numpy as np

from tailrace.signals.band import Band

POINTS_PER_PLUG = 64
POINTS_PER_RESIDENCE = 128
"""In the first tube: an edge passes the middle of a short tube undiminished."""
EDGE_DETAIL = 8
"""... but no more than this times the points that the injected band takes itself."""
POINTS_PER_TURNOVER = 2000
POINTS_PER_WIDTH = 10
"""Samples per standard deviation of a smooth feature."""
POINTS_IN_LONG_TUBES = 16
"""The same for a narrow injection into a first tube that delays it by many widths."""
DECIMATION = 2e-5
"""What doubling the step may change, relative to the band's L2 norm."""


def first_pulse(passages, resolution) -> Band:
    """A unit pulse at time zero on the grid that the injection will be written on.

    The grid resolves the injected band and what the first part of the path makes of its edges, but
    no detail that this part smooths away: a narrower injection keeps its moments all the same.
    Behind each part the step is doubled as often as the band's shape allows (``decimated``).

    Parameters
    ----------
    passages : list of (part, Stream)
    resolution : Resolution

    Returns
    -------
    Band
    """
    (first, stream), *path = passages
    lanes = stream.lanes
    step, edged = np.zeros(lanes), False
    if first.kind == "injector":
        edged = first.shape in ("plug", "washout")
        step = _injected_detail(first, stream)
        first, stream = path[0] if path else (first, stream)
    if first.kind == "tube":
        edge = first.residence(stream) / POINTS_PER_RESIDENCE
        step = np.clip(edge, step / EDGE_DETAIL, step)
    if edged and first.kind in ("chamber", "cell", "fitting"):
        # a stirred volume makes a corner of an edge, and a corner is met only to first order
        fresh = first.residence(stream) / POINTS_PER_TURNOVER
        step = np.maximum(step / EDGE_DETAIL, np.minimum(step, fresh))
    if first.kind in ("tube", "column"):
        smooth = _smoothing(first, stream)
        long = first.kind == "tube" and first.fourier_number(stream) > 1
        step = np.where(
            long, smooth / POINTS_IN_LONG_TUBES, np.maximum(step, smooth / POINTS_PER_WIDTH)
        )
    step = np.broadcast_to(step / resolution.refinement, (lanes,))
    return Band(1 / step[:, None], np.zeros(lanes), step)


def _injected_detail(injector, stream):
    if injector.shape == "gaussian":
        return np.asarray(injector.sigma) / POINTS_PER_WIDTH
    if injector.shape == "signal":
        return np.median(np.diff(injector.signal_times))
    return injector.duration(stream) / POINTS_PER_PLUG


def _smoothing(part, stream):
    """Shortest time that a part's response resolves, (lanes,) array, s.

    A tube's front rises in a few hundredths of its residence; the more mixing the slower.
    """
    if part.kind == "tube":
        fourier = part.fourier_number(stream)
        return part.residence(stream) * np.minimum(0.15 * fourier, 0.2 / np.sqrt(fourier))
    return part.residence(stream) / np.sqrt(part.plate_number(stream))
