"""The elements of a band behind a column whose liquid changes, which has no transfer function."""

from collections.abc import Callable

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.column.gradient import MigrationColumn
from tailrace.parts.column.gradient_march import passed
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.band import Band
from tailrace.signals.elements import Elements
from tailrace.signals.resolution import Resolution
from tailrace.signals.spectra import tanks

CLOCKS = Resolution(refinement=6.0)
"""Panels of the clocks: what is left of them is below 1e-11."""


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
    leaving, variance = passed(column, stream, band, CLOCKS)
    return Elements(
        amounts=band.values * band.step[:, None],
        entering=band.times,
        leaving=leaving,
        variance=variance,
        tanks_behind=np.array([head, np.broadcast_to(column.tail_time(stream), head.shape)]),
    )
