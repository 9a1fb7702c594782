"""How many cells a bed is cut into, how long a step is, and what that takes."""

from typing import NamedTuple, Protocol

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.response import TOGETHER

CELLS_PER_WIDTH, LIMITED_CELLS_PER_WIDTH = 14.0, 20.0
"""Per standard deviation of what a linear bed lets out, in length, at refinement 1; the second
where slopes are limited, since shocks are narrower than that.
"""
SHORT_OF_STABLE = 0.9
UPWIND_STEP, MANY_PLATES = 0.4, 1000.0
"""Of a cell, per step of the exchange march; stable to about 1.4. Where a step is about as long as
the exchange, its error in the skewness grows with the root of the plates: steps shrink against it.
"""
LEAST_CELLS = 48
FEW_VISITS = 20.0
"""Below this many exchanges part of the band leaves as narrow as dispersion alone leaves it."""
EXCHANGED, LIMITED = 3.5e7, 7e7
"""Cells and steps of both marches in a second of one processor (measured, to a factor of two)."""
DEVIATIONS, MOST_POINTS = 14.0, 42.0
"""Of a band, over which it holds something; steps to one of them, of a plug."""
TAIL = 60.0
"""Variances over a residence, until a tail as of an inverse Gaussian holds nothing."""
LATE = 20.0
"""Mean times on the slowest site, until it holds nothing (measured: 18 to 23)."""
PASSED = 4e5
"""Samples that go through a response in a second of one processor (measured, roughly)."""


class _Bed(Protocol):
    """What is asked of a column, which itself asks ``seconds_of``."""

    def in_cells(self, stream: Stream) -> bool: ...
    def dead_time(self, stream: Stream) -> FloatArray: ...
    def loading(self, stream: Stream) -> FloatArray: ...
    def variances(self, stream: Stream) -> tuple[FloatArray, FloatArray]: ...
    def exchange(self, stream: Stream) -> tuple[FloatArray, FloatArray, FloatArray]: ...


class Grid(NamedTuple):
    """Mobile time in one, reach of dispersion and step, s."""

    cells: int
    cell: float
    reach: float
    step: float


def exchanging_grid(
    mobile: float, held: FloatArray, rate: FloatArray, spread: float, refinement: float
) -> Grid:
    """Of a linear bed: mobile time, retention and rate by kind of site, variance of dispersion."""
    total = (1 + held.sum()) * mobile
    often = mobile * held > FEW_VISITS / rate
    plates = total**2 / (spread + (2 * mobile * held / rate)[often].sum())
    count = _cell_count(CELLS_PER_WIDTH, plates, refinement)
    cell, reach = mobile / count, spread * mobile / (2 * total**2)
    courant = UPWIND_STEP * min(1.0, (MANY_PLATES / plates) ** 0.25)
    return Grid(count, cell, reach, cell / (1 / courant + 2 * reach / cell))


def overloaded_grid(mobile: float, held: float, variance: float, refinement: float) -> Grid:
    """Of a Langmuir bed: mobile time, retention, variance of all that broadens beside overload."""
    total = mobile * (1 + held)
    count = _cell_count(LIMITED_CELLS_PER_WIDTH, total**2 / variance, refinement)
    cell, reach = mobile / count, variance * mobile / (2 * total**2)
    return Grid(count, cell, reach, SHORT_OF_STABLE * cell / (2 + 2 * reach / cell))


def with_outlet(count: int, reach: float, cell: float) -> int:
    """Cells, with those behind the outlet: dispersion upstream fades as exp(-x / reach)."""
    return count + int(np.ceil(30 * reach / cell)) + 4


def _cell_count(per_width: float, plates: float, refinement: float) -> int:
    return int(np.ceil(max(LEAST_CELLS, per_width * np.sqrt(plates)) * refinement))


def seconds_of(
    column: _Bed, stream: Stream, deviation: FloatArray, points: FloatArray, refinement: float
) -> float:
    """Of one processor, within a factor of about two; given as to ``Part.march_seconds``."""
    if column.in_cells(stream):
        return _seconds_in_cells(column, stream, deviation, refinement)
    there = deviation > 0
    wide = np.sqrt(deviation**2 + sum(column.variances(stream)))[there] / deviation[there]
    steps = DEVIATIONS * wide * np.minimum(points, MOST_POINTS)[there]
    together = float(deviation.size * np.max(steps, initial=0.0))
    return (float(np.sum(steps)) if together > TOGETHER else together) / PASSED


def _seconds_in_cells(
    column: _Bed, stream: Stream, deviation: FloatArray, refinement: float
) -> float:
    lanes = deviation.size
    dispersion, slow = (np.broadcast_to(one, (lanes,)) for one in column.variances(stream))
    mobile, held, rate = column.exchange(stream)
    loading, k, dead, mobile = (
        np.broadcast_to(np.asarray(one, float), (lanes,))
        for one in (
            column.loading(stream),
            stream.retention_factor,
            column.dead_time(stream),
            mobile,
        )
    )
    held, rate = (np.broadcast_to(one, (len(one), lanes)) for one in (held, rate))
    whole, overloaded = 0.0, bool(np.any(loading > 0))
    for lane in range(lanes):
        variance = float(dispersion[lane] + slow[lane])
        if overloaded:
            grid = overloaded_grid(dead[lane], k[lane], variance, refinement)
            # of the ideal model: a front at the begin, a tail that ends where little is retained
            root, speed = np.sqrt(min(loading[lane], 1.0)), LIMITED
            wide = dead[lane] * k[lane] * (2 * root - root**2)
        else:
            sites = held[:, lane], rate[:, lane]
            grid = exchanging_grid(mobile[lane], *sites, float(dispersion[lane]), refinement)
            # each kind of site takes half as long as the flow (measured)
            wide, speed = 0.0, EXCHANGED * 2 / (1 + len(held))
        # on the way the band is on average as wide as half way; of few plates it is one long tail
        lasts = DEVIATIONS * np.sqrt(deviation[lane] ** 2 + variance / 2) + wide / 2
        lasts = max(lasts, TAIL * variance / (dead[lane] * (1 + k[lane])))
        lasts += 0.0 if overloaded else LATE / np.min(rate[held[:, lane] > 0, lane], initial=np.inf)
        cells = with_outlet(grid.cells, grid.reach, grid.cell)
        whole += cells * lasts / grid.step / speed
    return whole
