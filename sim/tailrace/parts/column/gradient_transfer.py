"""The elements of a band behind a column whose liquid changes, which has no transfer function."""

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from scipy.fft import rfft

from tailrace.eluent.stream import Stream
from tailrace.errors import AccuracyError
from tailrace.parts.column.gradient import MigrationColumn
from tailrace.parts.column.gradient_march import Clock, clocks
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.band import Band
from tailrace.signals.elements import Elements
from tailrace.signals.resolution import Resolution
from tailrace.signals.spectra import tanks

CLOCKS = Resolution(refinement=6.0)
"""Panels of the clocks: what is left of them is below 1e-11."""
SAMPLES, SILENT = 6, 1e-14
"""Samples of a band to a panel of elements where its way bends; of its frequencies, those left out.
"""
NODES, WEIGHTS = np.polynomial.legendre.leggauss(8)
NODES, WEIGHTS = (NODES + 1) / 2, WEIGHTS / 2
MOST_TURNS, AT_ONCE = 2e7, 1024
"""Times elements: half a second for each case; of the second at a time."""
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

    Raises AccuracyError where edges in the sample ask for too many frequencies.
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
    """Elements by Gauss's rule between the times at which the way of leaving changes abruptly.

    When they enter, s, and how much; (lanes, elements) arrays. The band is the sum of its
    frequencies at any time.
    """
    lanes = list[tuple[FloatArray, FloatArray]]()
    count = band.values.shape[1]
    for clock, points, values, start, step in zip(
        each, knots, band.values, band.start, band.step, strict=True
    ):
        end = start + count * step
        inside = clock.bends(points)
        edges = np.concatenate([[start], inside[(inside > start) & (inside < end)], [end]])
        panels = [
            np.linspace(low, high, 2 + int((high - low) / (step * SAMPLES)))
            for low, high in pairwise(edges)
        ]
        low, high = (np.concatenate([one[side] for one in panels]) for side in (LESS, MORE))
        times = (low[:, None] + (high - low)[:, None] * NODES).ravel()
        shares = ((high - low)[:, None] * WEIGHTS).ravel()
        terms = rfft(values)
        last = np.flatnonzero(np.abs(terms) > SILENT * np.abs(terms).max())[-1] + 1
        turning = 2j * np.pi / (count * step) * np.arange(last)
        if times.size * last > MOST_TURNS:
            raise AccuracyError(
                f"the sample's edges ask for {last} frequencies at {times.size} times before it "
                "enters a column in a solvent of its own"
            )
        summed = np.concatenate(
            [
                np.exp(np.outer(times[at : at + AT_ONCE] - start, turning)) @ terms[:last]
                for at in range(0, times.size, AT_ONCE)
            ]
        )
        lanes.append((times, shares * (2 * summed.real - terms[0].real) / count))
    most = max(times.size for times, _ in lanes)
    # what is added at the end of shorter rows is nothing
    filled = [
        (np.append(times, np.full(most - times.size, times[-1])), np.resize(shares, most))
        for times, shares in lanes
    ]
    for (_, shares), (times, _) in zip(filled, lanes, strict=True):
        shares[times.size :] = 0.0
    found, amounts = (np.array(side) for side in zip(*filled, strict=True))
    return found, amounts
