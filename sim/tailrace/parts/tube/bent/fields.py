"""What is in a bent tube at given moments: over the section, with its two vortices, and the length.

As in ``tube/fields.py``, but over the section in the spaces of ``spectral.py``, a stretch each, and
in frequency at Chebyshev's points: along the tube the state moves with the fastest streamline,
and between these points it is smooth then. Means over rings and sections are exact integrals, so
that the amount in the tube is the sum of value times volume.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.polynomial import chebyshev, legendre

from tailrace.errors import AccuracyError
from tailrace.parts.tube.bent.galerkin import Section, basis, section
from tailrace.parts.tube.bent.spectral import ORDERS, Model, Reduced, first_order, shots
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.parts.tube.waves import Waves
from tailrace.quantities.arrays import ComplexArray, FloatArray, IntArray
from tailrace.threads import linear_algebra_alone

Progress: TypeAlias = Callable[[int, int], object]

DAMPING = np.log(1e3)
"""As in ``tube/fields.py``, less: what is left out of the spaces is damped away, too."""
TOLERANCE = 1e-3
"""What more terms may change, over the highest value that enters."""
DEGREE = 120
PLACES = (0.05, 0.25, 0.5, 0.75, 0.95)
"""Shares of the length at which the section is shown."""
POINTS = 49
"""Of the picture of a section, each way."""
QUADRATURE = 6
NOTHING = 1e-9


@dataclass(frozen=True)
class Found:
    """See ``TubeField``; ``entered`` and ``passed``: factors of the uniform band's waves."""

    rings: FloatArray
    plane: FloatArray
    across: FloatArray
    entered: ComplexArray
    passed: ComplexArray


def settled(
    waves: Waves,
    before: list[Stretch],
    own: list[Stretch],
    times: FloatArray,
    grid: tuple[int, int],
    progress: Progress | None,
) -> Found:
    """Take more terms over the section until what is asked for stays as it is.

    Raises AccuracyError if ``ORDERS`` do not suffice.

    Parameters
    ----------
    waves : of the band where it was last uniform over the section
    before, own : what it passes up to the tube, and the tube itself
    grid : (rings, sections)
    """
    chain = [*before, *own]
    lowest = 1 / sum(s.residence for s in chain)
    highest = max(float(waves.rates[-1].imag), 2 * lowest)
    rates = waves.damp + shots(highest, lowest)
    earlier: Found | None = None
    with linear_algebra_alone():  # the matrices are too small to share out
        for turn, order in enumerate(ORDERS[first_order(chain) + 1 :]):

            def report(done: int, turn: int = turn) -> None:
                if progress is not None:
                    progress(turn * grid[1] + done, len(ORDERS) * grid[1])

            model = Model.built(chain, order, rates)
            found = _summed(waves, model, chain, len(before), order, times, grid, report)
            if earlier is not None and _apart(found, earlier) < TOLERANCE * waves.height:
                return found
            earlier = found
    raise AccuracyError(
        f"{ORDERS[-1]} terms do not resolve what is in a bent tube behind this sharp inlet; inject "
        "more, or choose a longer tube"
    )


def _apart(one: Found, other: Found) -> float:
    """Of means; of points, which serve pictures, a tenth."""
    points = one.across[np.isfinite(one.across)] - other.across[np.isfinite(one.across)]
    return float(max(np.abs(one.rings - other.rings).max(), 0.1 * np.abs(points).max()))


def _summed(
    waves: Waves,
    model: Model,
    chain: list[Stretch],
    first: int,
    order: int,
    times: FloatArray,
    grid: tuple[int, int],
    report: Callable[[int], None],
) -> Found:
    """With one set of terms; ``first``: the tube's own first stretch."""
    nodes, between = _nodes(waves, 1 / sum(s.residence for s in chain))
    seen = _Seen.empty(times.size, grid)
    shares = np.cumsum([0.0, *(s.residence for s in chain[first:])])
    shares /= shares[-1]
    state, late = np.ones((nodes.size, 1), complex), 0.0
    for place, (stretch, part) in enumerate(zip(chain, model.parts, strict=True)):
        at, state = section(stretch.dean, order), state @ part.enter.T
        if place == first:
            weights = (at.axial[[0], :] @ part.basis)[0]
            entered = between @ (state @ weights) * np.exp(-waves.rates * late)
        cuts = np.array([0.0, 1.0])
        if place >= first:
            low, high = shares[place - first : place - first + 2]
            some, cuts = _cuts(grid[1], low, high)
        inside, ends = _along(stretch, part, nodes, state, cuts)
        if place >= first:
            amounts = np.empty((times.size, part.basis.shape[1], some.size))
            for k, middle in enumerate((cuts[1:] + cuts[:-1]) / 2):
                # moving with the fastest streamline, from the middle of the section
                moved = np.exp(-waves.rates * (late + stretch.transit * middle))
                wave = waves.back(times) * moved @ between
                amounts[:, :, k] = (wave @ inside[:, :, k]).real
                report(int(some[k]) + 1)
            parts = np.diff(cuts) * (high - low) * grid[1]
            seen.add(at, part.basis, amounts, some, parts, stretch.turned)
        state, late = ends, late + stretch.transit
    passed = np.asarray(between @ (state @ model.leave) * np.exp(-waves.rates * late), complex)
    return Found(seen.rings, seen.plane, seen.across, entered, passed)


def _nodes(waves: Waves, lowest: float) -> tuple[ComplexArray, FloatArray]:
    """Rates at Chebyshev's points, and the matrix from values there to the band's own rates."""
    reach = np.arcsinh(max(float(waves.rates[-1].imag) / lowest, 2.0))
    points = chebyshev.chebpts1(DEGREE + 1)
    series = chebyshev.chebvander(points, DEGREE).T * (2 / (DEGREE + 1))
    series[0] /= 2
    own = 2 * np.arcsinh(waves.rates.imag / lowest) / reach - 1
    nodes = waves.damp + 1j * lowest * np.sinh((points + 1) / 2 * reach)
    return nodes, chebyshev.chebvander(own, DEGREE) @ series


def _cuts(sections: int, low: float, high: float) -> tuple[IntArray, FloatArray]:
    """Sections that a stretch has a part of, and where within it they are cut."""
    edges = np.linspace(0.0, 1.0, sections + 1)
    some = np.flatnonzero((edges[1:] > low + NOTHING) & (edges[:-1] < high - NOTHING))
    cuts = (np.append(edges[some], edges[some[-1] + 1]) - low) / (high - low)
    return some, np.clip(cuts, 0.0, 1.0)


def _along(
    stretch: Stretch, part: Reduced, nodes: ComplexArray, state: ComplexArray, cuts: FloatArray
) -> tuple[ComplexArray, ComplexArray]:
    """Means between cuts, and the end, of one stretch, in time from its fastest streamline.

    Of each mean: that of the middle between the cuts. (nodes, dimensions, cuts - 1) and (nodes,
    dimensions) arrays.
    """
    inside = np.empty((nodes.size, state.shape[1], cuts.size - 1), complex)
    end = np.empty_like(state)
    reach, apart, transit = cuts * part.length, np.diff(cuts), stretch.transit
    for k, (p, begin) in enumerate(zip(nodes, state, strict=True)):
        along = p * part.radial_time
        rates, vectors = np.linalg.eig(part.rates + along * part.hold)
        share = np.linalg.solve(vectors, begin)
        delay = p * transit
        waits = (rates * part.length + delay)[:, None]  # in resting time, over the length
        decay = np.exp(-rates[:, None] * reach[:-1]) * np.exp(delay * apart / 2)
        inside[k] = vectors @ (share[:, None] * decay * -np.expm1(-waits * apart) / (waits * apart))
        end[k] = vectors @ (share * np.exp(-rates * part.length))
    return inside, end


@dataclass(frozen=True)
class _Seen:
    """What is shown, filled stretch by stretch."""

    rings: FloatArray
    plane: FloatArray
    across: FloatArray

    @staticmethod
    def empty(times: int, grid: tuple[int, int]) -> "_Seen":
        """Nothing yet; NaN outside of the section."""
        rings, sections = grid
        return _Seen(
            np.zeros((times, rings, sections)),
            np.zeros((times, 2 * rings, sections)),
            np.full((times, len(PLACES), POINTS, POINTS), np.nan),
        )

    def add(
        self,
        at: Section,
        space: FloatArray,
        means: FloatArray,
        some: IntArray,
        parts: FloatArray,
        turned: bool,
    ) -> None:
        """What one stretch holds.

        Parameters
        ----------
        means : (times, dimensions, pieces) array, over the length of each piece
        some : (pieces,) array, the sections that they are in
        parts : (pieces,) array, shares of these sections
        """
        count = self.rings.shape[1]
        for field, rows in (
            (self.rings, _over_rings(at, count)), (self.plane, _in_plane(at, count, turned))
        ):  # fmt: skip
            field[:, :, some] += (rows @ space) @ (means * parts)
        x, y = np.meshgrid(*2 * [np.linspace(-1, 1, POINTS)])
        inside = np.hypot(x, y) < 1
        angle = np.arctan2(np.abs(y[inside]), (-1 if turned else 1) * x[inside])
        rows = at.values(np.hypot(x, y)[inside], angle).T @ space
        for k, share in enumerate(PLACES):
            column = np.flatnonzero(some == min(int(share * self.rings.shape[2]), some.max()))
            if column.size and parts[column[0]] >= 0.5:
                self.across[:, k, inside] = means[:, :, column[0]] @ rows.T


def _over_rings(at: Section, rings: int) -> FloatArray:
    """Means of each term over rings. (rings, terms) array."""
    nodes, weights = legendre.leggauss(QUADRATURE)
    edges = np.linspace(0.0, 1.0, rings + 1) ** 2
    square = edges[:-1, None] + np.diff(edges)[:, None] * (nodes + 1) / 2
    even = np.flatnonzero(np.array(at.harmonic) == 0)
    rows = np.zeros((rings, at.size))
    degrees = np.array(at.degree, dtype=np.int64)[even]
    values = basis(0, degrees, np.sqrt(square).ravel()).reshape(even.size, rings, QUADRATURE)
    rows[:, even] = (values @ (weights / 2)).T
    return rows


def _in_plane(at: Section, rings: int, turned: bool) -> FloatArray:
    """Each term in the plane of the bend, from the inner wall to the outer. (2 rings, terms)."""
    r = (np.arange(rings) + 0.5) / rings
    inner, outer = (at.values(r, np.full(rings, angle)).T for angle in (np.pi, 0.0))
    whole = np.concatenate([inner[::-1], outer])
    return whole[::-1] if turned else whole
