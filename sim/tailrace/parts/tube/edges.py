"""Edges that enter a tube: the front behind each, marched finely for as long as it is sharp.

A tube answers an edge with a front of a hundredth of the residence and less, and with a smooth
curve after it. So the band is marched with steps that are doubled several times, and so is the edge
by itself for ``FRONT`` steps of each length. What the answer with one step says more than the
answer with twice the step is added at every edge: they differ while the front is sharp, and no
longer.
"""

from itertools import pairwise

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band, Jumps
from tailrace.signals.cubic import aligned, doubled, halved
from tailrace.signals.resolution import Resolution

EDGE = np.array([-1 / 24, 1 / 2, 25 / 24])
"""An edge from 0 to 1 on its samples, the middle one on the edge: shares of the cubic kernel."""
FRONT, MARGIN = 64, 16
"""Steps over which an edge is followed with each step, and more of them that are spoilt where the
edge, which has no end, is cut off."""
FADE = 16
POINTS_PER_RESIDENCE = 100
"""Of a band whose edges are followed by themselves."""
MOST_DOUBLINGS, MOST_FOURIER = 7, 1.0
"""A longer tube leaves nothing that is sharp."""


def doublings(
    band: Band, fourier: FloatArray, residence: FloatArray, resolution: Resolution
) -> int:
    """How often the steps of a band can be doubled if its edges are followed by themselves.

    fourier, residence : (tubes, lanes) arrays, 1 and s
    """
    if band.jumps is None or fourier.sum(axis=0).max() > MOST_FOURIER:
        return 0
    allowed = residence.sum(axis=0) / (POINTS_PER_RESIDENCE * resolution.refinement) / band.step
    most = min(MOST_DOUBLINGS, int(np.floor(np.log2(max(allowed.min(), 1.0)))))
    apart = _places(band) - _places(band)[0, 0]
    between = int(np.gcd.reduce(apart.ravel()))
    while most and between % (2 << most):  # the second march doubles once more
        most -= 1
    return most


def _places(band: Band) -> np.ndarray:
    """Samples on which the edges fall. (lanes, jumps) array of int."""
    assert band.jumps is not None
    return np.rint((band.jumps.at - band.start[:, None]) / band.step[:, None]).astype(np.int64)


def doubled_steps(band: Band, doublings: int) -> list[Band]:
    """The band, and with its steps doubled once and more."""
    found = [band]
    for _ in range(doublings):
        found.append(halved(found[-1]))
    return found


def steps(band: Band, doublings: int) -> Band:
    """An edge at time zero with the steps of each doubling, one group of lanes after the other."""
    lead = (int(_places(band)[0, 0]) - 1) % (2 << doublings) + 1
    edge = np.ones((band.lanes, ((FRONT + MARGIN) << doublings) + lead))
    edge[:, : lead - 1] = 0.0
    edge[:, lead - 1 : lead + 2] = EDGE
    return Band.joined(
        [
            Band(one.values[:, : FRONT + MARGIN], one.start, one.step)
            for one in doubled_steps(Band(edge, -lead * band.step, band.step), doublings)
        ]
    )


def sharpened(left: Band, fronts: Band, jumps: Jumps | None, doublings: int) -> Band:
    """What leaves the tube, on the steps that entered.

    left : marched with the longest steps; fronts : the answers to ``steps``.
    """
    assert jumps is not None
    lanes = left.lanes
    groups = [slice(k * lanes, (k + 1) * lanes) for k in range(doublings + 1)]
    answers = [
        Band(fronts.values[some, :FRONT], fronts.start[some], fronts.step[some]) for some in groups
    ]
    fade = np.minimum((FRONT - np.arange(FRONT)) / FADE, 1.0)
    for fine, coarse in reversed(list(pairwise(answers))):
        more = (fine.values - aligned(doubled(coarse), fine.start, FRONT).values) * fade
        more -= more.sum(axis=1, keepdims=True) * fade / fade.sum()  # their means agree
        left = doubled(left)
        at = np.rint((fine.start[:, None] + jumps.at - left.start[:, None]) / left.step[:, None])
        count = max(left.values.shape[1], int(at.max()) + FRONT)
        values = np.zeros((lanes, count))
        values[:, : left.values.shape[1]] = left.values
        for lane in range(lanes):
            for place, by in zip(at[lane].astype(int), jumps.by[lane], strict=True):
                values[lane, place : place + FRONT] += by * more[lane]
        left = Band(values, left.start, left.step)
    return left
