"""The elements of a band behind a column whose liquid changes, which has no transfer function."""

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from numpy.polynomial.legendre import legvander
from scipy.ndimage import map_coordinates, spline_filter1d

from tailrace.eluent.stream import Stream
from tailrace.parts.column.gradient import MigrationColumn
from tailrace.parts.column.gradient_march import Clock, clocks
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.band import Band
from tailrace.signals.elements import Elements
from tailrace.signals.resolution import Resolution
from tailrace.signals.spectra import tanks

CLOCKS = Resolution(refinement=6.0)
"""Panels of the clocks: what is left of them is below 1e-11."""
NODES, WEIGHTS = np.polynomial.legendre.leggauss(16)
ORDERS = np.arange(NODES.size)
PROJECTED = WEIGHTS[:, None] * legvander(NODES, NODES.size - 1) * (ORDERS + 0.5)
"""Integrals of a function times Legendre's polynomials to its amounts at the nodes: for any smooth
function these weigh as it does."""
APART, STEEP = 0.5, 2.0
"""Standard deviations of one element, and of ln k: by so much elements of one panel leave apart."""
SLOPES, SAMPLES = 33, 12
"""Places at which a way is looked at; samples of a band to which one rule of Gauss's goes."""
LESS, MORE = slice(None, -1), slice(1, None)


def elements(
    column: MigrationColumn,
    stream: Stream,
    omega: FloatArray,
    entering: Callable[[ComplexArray], Band],
) -> Elements:
    """What enters, and when it leaves.

    Parameters
    ----------
    omega : (lanes, frequencies) array, rad/s
    entering : callable
        Lays out in time what comes to the column times a factor, of these frequencies: its head.
    """
    head = np.broadcast_to(column.head_time(stream), omega.shape[:1])
    band = entering(tanks(omega, head, 1))
    times, amounts = band.times, band.values * band.step[:, None]
    each = clocks(column, stream.over(band.lanes), band, CLOCKS)
    if column.bent_band:
        times, amounts = _between_bends(each, column.lines(stream.over(band.lanes))[0], band)
    rows = [clock.passed(row) for clock, row in zip(each, times, strict=True)]
    leaving, variance = (np.array(side) for side in zip(*rows, strict=True))
    return Elements(
        amounts=amounts,
        entering=times,
        leaving=leaving,
        variance=variance,
        tanks_behind=np.array([head, np.broadcast_to(column.tail_time(stream), head.shape)]),
    )


def _between_bends(
    each: Sequence[Clock], knots: FloatArray, band: Band
) -> tuple[FloatArray, FloatArray]:
    """Elements at Gauss's nodes of panels in which the way of leaving changes smoothly.

    When they enter, s, and how much; (lanes, elements) arrays. However sharp the edges of the band
    are: whatever is smooth in a panel weighs its elements as it does the band.
    """
    lanes = list[tuple[FloatArray, FloatArray]]()
    count = band.values.shape[1]
    smooth = spline_filter1d(band.values, 5, axis=1, mode="grid-wrap")
    for clock, points, values, start, step in zip(
        each, knots, smooth, band.start, band.step, strict=True
    ):
        end = start + count * step
        inside = clock.bends(points)
        edges = np.concatenate([[start], inside[(inside > start) & (inside < end)], [end]])
        panels = np.concatenate([_panels(clock, *ends) for ends in pairwise(edges)])
        middle, half = panels.mean(axis=1), np.diff(panels)[:, 0] / 2
        places = (middle[:, None] + half[:, None] * NODES).ravel()
        shares = [_amounts(values, (row - start) / step) * step for row in panels]
        lanes.append((places, np.concatenate(shares)))
    most = max(times.size for times, _ in lanes)
    # what is added at the end of shorter rows is nothing
    found = np.array([np.append(one, np.full(most - one.size, one[-1])) for one, _ in lanes])
    amounts = np.array([np.append(one, np.zeros(most - one.size)) for _, one in lanes])
    return found, amounts


def _panels(clock: Clock, low: float, high: float) -> FloatArray:
    """Pieces of a time between two bends. (panels, 2) array, s."""
    times = np.linspace(low, high, SLOPES)
    leaving, variance = clock.passed(times)
    levels = clock.level(np.stack([times, leaving - clock.dead_time]))
    apart = (SLOPES - 1) * np.abs(np.diff(leaving)).max() / np.sqrt(variance.min())
    count = max(apart / APART, np.ptp(levels, axis=1).max() / STEEP)
    edges = np.linspace(low, high, 1 + max(int(np.ceil(count)), 1))
    return np.stack([edges[LESS], edges[MORE]], axis=1)


def _amounts(values: FloatArray, ends: FloatArray) -> FloatArray:
    """What of samples, as splines, falls to each node between two places of them."""
    begin, end = ends
    edges = np.linspace(begin, end, 1 + max(int(np.ceil((end - begin) / SAMPLES)), 1))
    half = (edges[1] - edges[0]) / 2
    places = ((edges[LESS] + edges[MORE])[:, None] / 2 + half * NODES).ravel()
    read = map_coordinates(values, places[None], order=5, mode="grid-wrap", prefilter=False)
    weighed = read * np.tile(half * WEIGHTS, edges.size - 1)
    inner = (2 * places - begin - end) / (end - begin)
    return np.asarray(PROJECTED @ (legvander(inner, NODES.size - 1).T @ weighed))
