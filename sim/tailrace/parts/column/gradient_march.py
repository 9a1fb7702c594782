"""How a band goes through a column whose liquid changes: every element migrates by its own clock.

Where the retention factor depends only on what enters the column, and that travels unretained, an
element that enters at t has migrated X of the column by the retarded time s, X = integral of
ds / (t0 k) from t to s. It leaves at X = 1. On its way it is spread: the share of the column
dX sqrt(1/N) spread at one place is (1 + 1/k) times as much where it leaves. X and the variance are
integrals in s alone, so each is tabulated once (Gauss-Legendre in short panels) and read for every
element. Each leaves as an inverse Gaussian density with the mean and the variance so found, as
from the column with constant composition.
"""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PPoly

from tailrace.eluent.stream import Stream
from tailrace.errors import BudgetError
from tailrace.parts.column.gradient import MigrationColumn
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.signals.cubic import doubled, spread
from tailrace.signals.resolution import Resolution
from tailrace.signals.response import through_tanks

PANEL = 0.05
"""ln k changes by no more in one panel of the table, at refinement 1."""
MOST_PANELS = 200_000
POINTS_PER_WIDTH = 10
"""Of the band that leaves, per standard deviation of one element, at refinement 1."""
COARSEST = 0.25
"""Samples of the band that enters leave no farther apart, in the same measure."""
MOST_DOUBLINGS = 12
NEGLIGIBLE = 1e-9
"""A sample below this share of the largest has no say in the grid."""
MOST_VALUES, AT_ONCE = 20_000_000, 50_000
"""Of all densities of one lane, and of those in memory."""
NODES, WEIGHTS = np.polynomial.legendre.leggauss(4)
NODES, WEIGHTS = (NODES + 1) / 2, WEIGHTS / 2


def march(column: MigrationColumn, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a column whose liquid changes.

    Raises BudgetError for a programme that changes k by too many decades, or a band too wide for
    its column.
    """
    head = np.broadcast_to(column.head_time(stream), (band.lanes,))
    if np.any(head > 0):
        band = through_tanks(band, head, 1.0, resolution.truncation)
    each = clocks(column, stream.over(band.lanes), band, resolution)
    lanes = [_lane(clock, band.lane(index), resolution) for index, clock in enumerate(each)]
    values = np.zeros((band.lanes, max(row.size for row, _, _ in lanes)))
    for index, (row, _, _) in enumerate(lanes):
        values[index, : row.size] = row
    band = Band(values, *(np.array([lane[k] for lane in lanes]) for k in (1, 2)))
    for time in (head, np.broadcast_to(column.tail_time(stream), head.shape)):
        if np.any(time > 0):
            band = through_tanks(band, time, 1.0, resolution.truncation)
    return band


@dataclass(frozen=True)
class Clock:
    """Tables over the retarded time of one lane.

    ``migrated`` X; ``spreading`` the integral of (1 + 1/k)^2 / N dX; ``level`` ln(1/k).
    """

    dead_time: float
    migrated: PPoly
    spreading: PPoly
    level: PPoly

    def passed(self, entering: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Times at which elements leave that enter at these times, and their variances."""
        arrival = self._leaving(entering)
        variance = self.spreading(arrival) - self.spreading(entering)
        variance = (self.dead_time * np.exp(-self.level(arrival))) ** 2 * variance
        return arrival + self.dead_time, variance

    def bends(self, knots: FloatArray) -> FloatArray:
        """When elements enter of which neighbours leave otherwise: as the liquid changes its ways
        at these retarded times, or when they leave as it does."""
        first, last = self.migrated.x[[0, -1]]
        goal = self.migrated(np.clip(knots, first, last)) - 1
        return np.unique(np.concatenate([knots, self._reached(goal[goal > 0])]))

    def _leaving(self, entering: FloatArray) -> FloatArray:
        """The first, as retarded times."""
        return self._reached(self.migrated(entering) + 1)

    def _reached(self, goal: FloatArray) -> FloatArray:
        """Retarded times at which so much of columns is migrated."""
        edges = self.migrated.x
        panel = np.clip(np.searchsorted(self.migrated(edges), goal) - 1, 0, edges.size - 2)
        time, slope = edges[panel], self.migrated.derivative()
        # within a panel the curve is all but straight: Newton's steps double the digits
        for _ in range(6):
            time = time - (self.migrated(time) - goal) / slope(time)
        return time


def clocks(
    column: MigrationColumn, stream: Stream, band: Band, resolution: Resolution
) -> list[Clock]:
    """One for each lane, over all times that its elements meet."""
    begins, ends, low, high = _panels(column, stream, band, resolution)
    lanes = len(low)
    length = ends - begins
    level = low[..., None] + (high - low)[..., None] * NODES
    inverse = np.exp(level)
    plates = column.plates_at((1 / inverse).reshape(lanes, -1), stream).reshape(level.shape)
    edge = np.stack([low, high], axis=-1)
    edge_plates = column.plates_at(np.exp(-edge).reshape(lanes, -1), stream).reshape(edge.shape)
    dead_time = np.broadcast_to(column.bed_time(stream), (lanes,))
    found = []
    for lane, dead in enumerate(dead_time):
        one = ends[lane] > begins[lane]
        begin, end, span = begins[lane, one], ends[lane, one], length[lane, one]
        inner, outer = inverse[lane, one] / dead, np.exp(edge[lane, one]) / dead
        migrated = _curve(begin, end, span * (inner @ WEIGHTS), outer)
        inner = inner * (1 + inverse[lane, one]) ** 2 / plates[lane, one]
        outer = outer * (1 + np.exp(edge[lane, one])) ** 2 / edge_plates[lane, one]
        spreading = _curve(begin, end, span * (inner @ WEIGHTS), outer)
        lines = np.stack([(high - low)[lane, one] / span, low[lane, one]])
        straight = PPoly(lines, np.append(begin, end[-1]))
        found.append(Clock(dead, migrated, spreading, straight))
    return found


def _panels(
    column: MigrationColumn, stream: Stream, band: Band, resolution: Resolution
) -> tuple[FloatArray, ...]:
    """Begin, end, and ln(1/k) at both, of short panels over all times; (lanes, panels) arrays."""
    knots, levels = column.lines(stream)
    first = np.minimum(band.start, knots[:, 0]) - 1.0
    last = np.maximum(band.times[:, -1], knots[:, -1])
    dead_time = np.broadcast_to(column.bed_time(stream), last.shape)
    last = last + 2 * dead_time * np.exp(-levels[:, -1])
    knots = np.column_stack([first, knots, last])
    levels = np.column_stack([levels[:, 0], levels, levels[:, -1]])
    pieces = []
    for index in range(knots.shape[1] - 1):
        begin, end = knots[:, index], knots[:, index + 1]
        if not np.any(end > begin):
            continue
        rise = levels[:, index + 1] - levels[:, index]
        count = max(1, int(np.ceil(np.max(np.abs(rise)) * resolution.refinement / PANEL)))
        share = np.linspace(0, 1, count + 1)
        times = begin[:, None] + (end - begin)[:, None] * share
        level = levels[:, index, None] + rise[:, None] * share
        pieces.append((times[:, :-1], times[:, 1:], level[:, :-1], level[:, 1:]))
        if sum(piece[0].size for piece in pieces) > MOST_PANELS * band.lanes:
            raise BudgetError(
                f"{column.name}: the composition changes ln k by {np.max(np.abs(rise)):.3g}; "
                "use a smaller s or a narrower span of compositions"
            )
    return tuple(np.concatenate(parts, axis=1) for parts in zip(*pieces, strict=True))


def _curve(begin: FloatArray, end: FloatArray, rise: FloatArray, slopes: FloatArray) -> PPoly:
    """Cubics with the given rises, and the given slopes at both ends of each panel."""
    span = end - begin
    left, right = slopes.T
    mean = rise / span
    start = np.append(0.0, np.cumsum(rise)[:-1])
    coefficients = [
        (left + right - 2 * mean) / span**2,
        (3 * mean - 2 * left - right) / span,
        left,
        start,
    ]
    return PPoly(np.stack(coefficients), np.append(begin, end[-1]))


def _lane(clock: Clock, band: Band, resolution: Resolution) -> tuple[FloatArray, float, float]:
    """Values, start and step of what leaves of one lane."""
    for _ in range(MOST_DOUBLINGS):
        entering = band.times[0]
        leaving, variance = clock.passed(entering)
        weighty = np.abs(band.values[0]) > NEGLIGIBLE * np.abs(band.values[0]).max()
        narrowest = np.sqrt(variance[weighty].min())
        gaps = np.where(weighty[1:] | weighty[:-1], np.diff(leaving), 0.0)
        if gaps.max(initial=0.0) <= COARSEST * narrowest:
            break
        band = doubled(band)
    else:
        raise BudgetError(
            f"the column would spread a point of the band by {narrowest:.3g} s only, and "
            f"the points leave {gaps.max():.3g} s apart: too fine to compute; use a larger column "
            "or inject less widely"
        )
    amounts = band.values[0] * band.step[0]
    step = narrowest / (POINTS_PER_WIDTH * resolution.refinement)
    # samples share out their amounts over nodes on the grid of what leaves
    position = (leaving - leaving[0]) / step + 1.0
    nodes = int(np.ceil(position[-1])) + 3
    weights = spread(position[None, :], amounts[None, :], nodes)[0]
    times = leaving[0] + step * (np.arange(nodes) - 1.0)
    passage = np.interp(times, leaving, leaving - entering)
    variance = np.interp(times, leaving, variance)
    values, first = _summed(weights, passage, variance, step, resolution.truncation)
    return values, times[0] + first * step, step


def _summed(
    weights: FloatArray, passage: FloatArray, variance: FloatArray, step: float, truncation: float
) -> tuple[FloatArray, int]:
    """Add up inverse Gaussian densities, one for each node; values and the first index."""
    plates = passage**2 / variance
    reach = 1 - np.log(truncation) / plates
    swing = np.sqrt(reach**2 - 1)
    first = int(np.floor(np.min(passage * (reach - swing - 1)) / step))
    last = int(np.ceil(np.max(passage * (reach + swing - 1)) / step))
    if weights.size * (last - first) > MOST_VALUES:
        raise BudgetError(
            f"a band {weights.size * step:.3g} s wide leaves a column that would spread it by "
            f"{np.sqrt(variance.min()):.3g} s only: too many steps; inject less widely"
        )
    nodes = weights.size
    values, together = np.zeros(nodes + last - first), max(AT_ONCE // nodes, 1)
    for begin in range(first, last + 1, together):
        offsets = np.arange(begin, min(begin + together, last + 1))[:, None]
        time = passage + step * offsets
        safe = np.maximum(time, 1e-6 * passage)
        exponent = -plates * (safe - passage) ** 2 / (2 * passage * safe)
        density = np.sqrt(plates * passage / (2 * np.pi * safe**3)) * np.exp(
            np.maximum(exponent, -700.0)
        )
        # each offset one sample further: rows of a table that is read one narrower
        width = nodes + offsets.size - 1
        table = np.zeros(offsets.size * (width + 1))
        table.reshape(-1, width + 1)[:, :nodes] = weights * density
        found = table[: offsets.size * width].reshape(-1, width).sum(axis=0)
        values[begin - first : begin - first + width] += found
    return values, first
