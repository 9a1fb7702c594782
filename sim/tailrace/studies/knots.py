"""A curve as few points that straight lines may join."""

from dataclasses import dataclass

import numpy as np

from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample

TOLERANCE = 8e-4
"""Of the height: so far the straight lines may be from the curve."""
FLOOR = 2.5e-4
"""Of the height: below it both ends of the curve are left out."""
MOST_REFINED = 16
"""Points for one sample, at most."""


@dataclass(frozen=True, kw_only=True)
class Knots:
    """Points that straight lines join.

    Parameters
    ----------
    start, step : float, s
        Of the even grid on which the points stand.
    places : (points,) array of int, steps from the start
        The first is 0.
    heights : (points,) array, 1/s
        Zero at both ends, as the curve is taken to be beyond.
    """

    start: float
    step: float
    places: IntArray
    heights: FloatArray

    @property
    def times(self) -> FloatArray:
        """(points,) array, s."""
        return self.start + self.step * self.places.astype(float)


def knots(band: Band, lane: int, recorded: bool = False) -> Knots | None:
    """Few points of one lane that straight lines join within TOLERANCE.

    ``recorded``: true: the samples are what a recorder wrote down, and straight lines join them.
    False: the cubic through four neighbours joins them. None for a signal that is nowhere positive.

    Notes
    -----
    The farthest point of each stretch becomes a knot until none is too far: the method of Ramer
    (1972) and of Douglas and Peucker (1973), with distances upright (from memory).
    """
    one = band.lane(lane)
    start, step, heights = one.start[0], one.step[0], one.values[0]
    if not heights.max() > 0:
        return None
    if not recorded:
        start, step, heights = _refined(one)
    height = heights.max()
    seen = np.flatnonzero(heights > FLOOR * height)
    first, last = max(seen[0] - 1, 0), min(seen[-1] + 2, heights.size)
    heights = heights[first:last].copy()
    heights[0] = heights[-1] = 0.0
    places = _farthest(heights, TOLERANCE * height)
    return Knots(start=start + step * first, step=step, places=places, heights=heights[places])


def _refined(one: Band) -> tuple[float, float, FloatArray]:
    """Start, step and heights on a grid so fine that straight lines between its points will do."""
    padded = np.pad(one.values[0], 2)
    bend = np.abs(np.diff(padded, 2)).max() / 8 / padded.max()
    count = int(np.clip(np.ceil(np.sqrt(bend / (TOLERANCE / 8))), 1, MOST_REFINED))
    step = one.step[0] / count
    places = np.arange(-count, one.values.shape[1] * count + 1)
    start = one.start[0] + step * places[0]
    return start, step, sample(one, one.start[:, None] + step * places[None])[0]


def _farthest(heights: FloatArray, most: float) -> IntArray:
    """Which points to keep, (points,) array of int."""
    chosen, open_stretches = {0, heights.size - 1}, [(0, heights.size - 1)]
    while open_stretches:
        first, last = open_stretches.pop()
        inside = np.arange(first + 1, last)
        slope = (heights[last] - heights[first]) / (last - first)
        away = np.abs(heights[inside] - heights[first] - slope * (inside - first))
        if away.size and away.max() > most:
            knot = int(inside[np.argmax(away)])
            chosen.add(knot)
            open_stretches += [(first, knot), (knot, last)]
    return np.array(sorted(chosen))
