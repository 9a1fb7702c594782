"""How a band goes through a bent tube: finite volumes over the section, then length and time.

Section: ``grid.py``, second order. Length: ``SDIRK2``, in groups of eight equal steps, longer
group by group as the band spreads. Time: trapezoidal rule, counted from
the transit of the fastest streamline. A stage is one solve with a banded matrix, factored once for
each group. Everything is marched twice, the second time with double steps in all four directions,
and extrapolated (Richardson): what is left is of fourth order over the section and in time and of
third along the tube.

Only one instant of the tube is kept. The eight axial steps of a group stand side by side in one
vector, each one instant behind the step before it, so that all eight use the same factors::

    row t    [step 1 at t | step 2 at t-1 | ... | step 8 at t-7]  ->  row t of the next group

The concentration over the section at the end of one stretch enters the next.
"""

from collections.abc import Hashable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from tailrace.errors import AccuracyError, BudgetError
from tailrace.parts.tube.bent.grid import SectionGrid, section_grid
from tailrace.parts.tube.bent.leja import Shared
from tailrace.parts.tube.bent.resolution import Grid, group_lengths, needed
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.parts.tube.grid import sharpness
from tailrace.parts.tube.vector import LANES, aligned, fused, load, splat, store
from tailrace.quantities.arrays import FloatArray
from tailrace.signals import cubic
from tailrace.signals.band import Band
from tailrace.signals.tableau import SDIRK2
from tailrace.threads import in_threads, threads_left

if TYPE_CHECKING:
    from tailrace.parts.tube.vector import Row

GAMMA = float(SDIRK2.stages[0, 0])
RATIO = float(SDIRK2.stages[1, 0]) / GAMMA
"""What the second stage takes of the first slope, over what the first takes of it."""
CHUNK = 64
"""Instants that pass all groups before the next ones do."""
MOST_INSTANTS = 4_000_000
MOST_WORK = 2e12
"""Multiplications that one lane may take: minutes on one processor."""
TAIL = 4.0
"""Residence times that a tube takes to empty, roughly, for the estimate of the work."""
MULTIPLICATIONS = 1.2e10
"""A second, with eight in one instruction: ours, and right within a factor of two elsewhere."""
HELD = Shared(64)
"""The last lanes that were marched: solutes that diffuse alike, and the cases of a study that begin
alike, pass a tube once."""
BLOCK = 4
"""Rows of the matrix that are solved together, so that what they share is read once."""


def march(chains: list[list[Stretch]], band: Band, refinement: float, truncation: float) -> Band:
    """Send a band through tubes made of stretches.

    ``band``: concentration in the stream that enters, uniform over the section. Flux-averaged
    concentration in the stream that leaves. Raises BudgetError if the march would take more than
    ``MOST_WORK``. Raises AccuracyError if the tube has not emptied after ``MOST_INSTANTS``
    instants.
    """
    lanes, sharp = band.each, sharpness(band).tolist()
    keys = []
    for way, steep, each in zip(chains, sharp, lanes, strict=True):
        samples = (one.tobytes() for one in (each.values, each.start, each.step))
        keys.append((*way, steep, refinement, truncation, *samples))
    places: dict[Hashable, int] = {key: at for at, key in enumerate(keys)}

    def lane(key: Hashable) -> Band:
        at = places[key]
        return _extrapolated(chains[at], lanes[at], sharp[at], refinement, truncation)

    # each of the threads goes through all, and takes what none before it has taken
    threads = range(min(threads_left(), len(places)))
    found = in_threads(lambda _: HELD.all([*places], lane), threads)[0]
    own = dict(zip(places, found, strict=True))
    bands = [own[key] for key in keys]
    count = max(each.values.shape[1] for each in bands)
    return Band(
        np.concatenate([cubic.aligned(each, each.start, count).values for each in bands]),
        np.concatenate([each.start for each in bands]),
        band.step,
    )


def _extrapolated(
    chain: list[Stretch], band: Band, sharp: float, refinement: float, cut: float
) -> Band:
    grid = needed(chain, sharp, refinement)
    instants = band.values.shape[1] + TAIL * sum(s.residence for s in chain) / band.step[0]
    if _work(grid, instants) > MOST_WORK:
        raise BudgetError(
            f"a bent tube would need {instants:.2g} time steps, minutes of work for this tube "
            "alone: what is injected is too brief against the time in the tube; inject more, or "
            "use a shorter tube"
        )
    # time is counted from one and the same start, ahead of the fastest node of either grid
    frame = [
        max(section_grid(s.dean, grid.rings // by, grid.sectors // by).fastest for by in (1, 2))
        for s in chain
    ]
    fine = _once(chain, band, sharp, grid, frame, 1, cut)
    coarse = _once(chain, cubic.halved(band), sharp, grid, frame, 2, cut)
    return cubic.extrapolated(fine, coarse, order=2)


def _work(grid: Grid, instants: float) -> float:
    """Multiplications of the fine march."""
    groups = sum(2 * count for count in grid.groups)
    return 4 * LANES * groups * instants * grid.rings * (grid.sectors + 1) ** 2


def seconds_of(
    chain: list[Stretch], width: float, sharp: float, step: float, refinement: float
) -> float:
    """About how long a march takes on one processor of a band that comes so wide and sharp, s."""
    step /= refinement
    instants = (TAIL * sum(s.residence for s in chain) + 10 * width) / step
    return _work(needed(chain, max(sharp, step), refinement), instants) / MULTIPLICATIONS


@dataclass(frozen=True, eq=False)
class _Group:
    """Eight equal steps: their factors, and what one instant leaves to the next."""

    flow: FloatArray
    drive: FloatArray
    lower: FloatArray
    upper: FloatArray
    inverse: FloatArray
    state: FloatArray
    stages: FloatArray
    work: FloatArray


@dataclass(frozen=True, eq=False)
class _Joint:
    """Passes the profile from one stretch to the next, with the flow of each node in both."""

    before: FloatArray
    after: FloatArray
    order: np.ndarray | None

    def pass_on(self, field: FloatArray) -> FloatArray:
        """Same place over the bore; a constant makes good what the change of flow would lose."""
        if self.before is self.after and self.order is None:
            return field
        turned = field.copy() if self.order is None else np.ascontiguousarray(field[:, self.order])
        turned += (field @ self.before - turned @ self.after)[:, None]
        return turned


def _once(
    chain: list[Stretch],
    band: Band,
    sharp: float,
    grid: Grid,
    frame: list[float],
    coarser: int,
    cut: float,
) -> Band:
    """One march, with steps ``coarser`` times as long."""
    step = float(band.step[0])
    sections = [section_grid(s.dean, grid.rings // coarser, grid.sectors // coarser) for s in chain]
    line: list[_Group | _Joint] = []
    for place, (stretch, section) in enumerate(zip(chain, sections, strict=True)):
        if place:
            line.append(_joint(chain[place - 1], sections[place - 1], stretch, section))
        reduced = step / stretch.radial_time
        for length in group_lengths(stretch, sharp, grid.groups[place]):
            along = coarser * length / (2 * LANES)
            group = _prepared(section, stretch.strength, along, reduced, frame[place])
            line += [group, _again(group)] if coarser == 1 else [group]
    transit = sum(s.residence / speed for s, speed in zip(chain, frame, strict=True))
    outlet = _streamed(line, sections[0].nodes, sections[-1].flow, band.values[0], cut)
    return Band(outlet[None, :], band.start + transit, band.step)


def _joint(one: Stretch, at: SectionGrid, other: Stretch, there: SectionGrid) -> _Joint:
    order = None
    if one.turned != other.turned:
        ring = np.arange(1, at.nodes).reshape(at.rings, at.sectors + 1)[:, ::-1]
        order = np.concatenate([[0], ring.ravel()])
    return _Joint(at.flow, there.flow, order)


def _prepared(at: SectionGrid, strength: float, length: float, step: float, frame: float) -> _Group:
    """Factor the matrix of a stage for steps of one length."""
    along = GAMMA * length
    drive = along * 2 / step * (at.area - at.flow / frame)
    matrix = np.zeros((at.nodes, 2 * at.band + 1))
    flux = 2 * strength * at.carried
    for rows, columns, entries in (
        (at.left, at.left, at.diffusion + flux),
        (at.left, at.right, flux - at.diffusion),
        (at.right, at.left, -at.diffusion - flux),
        (at.right, at.right, at.diffusion - flux),
    ):
        np.add.at(matrix, (rows, columns - rows + at.band), along * entries)
    matrix[:, at.band] += at.flow + drive
    _factor(matrix)
    blocks = -(-at.nodes // BLOCK)
    lower, upper = np.zeros((2, blocks * BLOCK, 2 * at.band + BLOCK))
    inverse = np.zeros(blocks * BLOCK)
    inverse[: at.nodes] = 1 / matrix[:, at.band]
    # in order of distance from the row
    lower[: at.nodes, : at.band] = -matrix[:, at.band - 1 :: -1]
    upper[: at.nodes, : at.band] = -matrix[:, at.band + 1 :] * inverse[: at.nodes, None]
    return _Group(
        flow=at.flow,
        drive=drive,
        lower=_blocked(lower, at.band),
        upper=_blocked(upper.reshape(blocks, BLOCK, -1)[:, ::-1].reshape(upper.shape), at.band),
        inverse=inverse,
        **_memory(blocks * BLOCK, at.band),
    )


def _blocked(rows: FloatArray, band: int) -> FloatArray:
    """Factors of BLOCK rows together: of each node outside the block, then of those inside it.

    rows (rows, ...): by distance less one, the row nearest to the nodes outside first. Returns
    (blocks, (band + BLOCK) x BLOCK): entry k of row r belongs to the k-th node before the block,
    entry band + j of row r to row j of the block.
    """
    blocks = rows.shape[0] // BLOCK
    out = np.zeros((blocks, band + BLOCK, BLOCK))
    for r in range(BLOCK):
        own = rows[r::BLOCK]
        out[:, :band, r] = own[:, r : r + band]
        for j in range(r):
            out[:, band + j, r] = own[:, r - j - 1]
    return np.ascontiguousarray(out.reshape(blocks, -1))


def _memory(nodes: int, band: int) -> dict[str, FloatArray]:
    return {
        "state": aligned(2 * nodes * LANES),
        "stages": aligned((nodes + 1) * LANES),
        "work": aligned((nodes + 2 * band) * LANES),
    }


def _again(group: _Group) -> _Group:
    """Another eight steps with the same factors."""
    nodes = group.inverse.size
    band = group.lower.shape[1] // BLOCK - BLOCK
    return replace(group, **_memory(nodes, band))


def _streamed(
    line: list[_Group | _Joint], nodes: int, flow: FloatArray, inlet: FloatArray, cut: float
) -> FloatArray:
    """March until next to nothing is left in the tube; (times,) array at the outlet."""
    count = inlet.size
    entering = np.zeros(count + 1)
    entering[:count] = inlet / 2
    entering[1:] += inlet / 2
    late = (LANES - 1) * sum(isinstance(each, _Group) for each in line)
    total, given = float(inlet.sum()), 0.0
    pieces: list[FloatArray] = []
    for first in range(0, MOST_INSTANTS, CHUNK):
        field = np.zeros((CHUNK, nodes))
        some = entering[first : first + CHUNK]
        field[: some.size] = some[:, None]
        for each in line:
            if isinstance(each, _Joint):
                field = each.pass_on(field)
            else:
                _kernel(
                    field, each.flow, each.drive, each.lower, each.upper, each.inverse,
                    each.state, each.stages, each.work
                )  # fmt: skip
        leaving = field @ flow
        pieces.append(leaving)
        before, given = given, given + float(leaving.sum())
        # what leaves a tube dies out faster than exponentially: a still chunk is the last
        still = abs(given - before) <= cut * abs(total) and given > total / 2
        if first >= count + late and (abs(total - given) <= cut * abs(total) or still):
            means = np.concatenate(pieces)[late:]
            signs = np.where(np.arange(means.size) % 2, -1.0, 1.0)
            # the mean of two instants is known: the later one is twice it less the earlier
            return np.asarray(2 * signs * np.cumsum(signs * means))
    raise AccuracyError(
        f"a tube still holds part of the band after {MOST_INSTANTS} time steps: the band that "
        "enters is too sharp for this tube's residence time; use a wider injection"
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _factor(matrix: FloatArray) -> None:
    """LU factors of a banded matrix in its own place, without exchange of rows.

    Its symmetric part is positive definite (axial flow, storage and diffusion are, the secondary
    flow is antisymmetric), which keeps the pivots away from zero.
    """
    nodes, width = matrix.shape
    band = width // 2
    for i in range(nodes):
        pivot = 1.0 / matrix[i, band]
        for k in range(1, min(band, nodes - 1 - i) + 1):
            factor = matrix[i + k, band - k] * pivot
            if factor != 0.0:
                for j in range(1, band + 1):
                    matrix[i + k, band - k + j] -= factor * matrix[i, band + j]
            matrix[i + k, band - k] = factor


@njit(cache=True, nogil=True, error_model="numpy")
def _kernel(
    field: FloatArray,
    flow: FloatArray,
    drive: FloatArray,
    lower: FloatArray,
    upper: FloatArray,
    inverse: FloatArray,
    state: FloatArray,
    stages: FloatArray,
    work: FloatArray,
) -> None:
    """Advance a group of eight steps by the instants of ``field``; it enters and leaves in place.

    field (times, nodes); flow, drive (nodes); inverse (rows): of the pivots, 0 beyond the nodes;
    lower, upper: factors with their signs turned as ``_blocked`` orders them, the upper ones over
    the pivot; state (2 stages x rows x 8); stages: the second stage at the last instant, after
    eight numbers of padding; work: a stage, with a band's width of padding at both ends.
    """
    nodes, rows = flow.size, inverse.size
    pad, far = (lower.shape[1] // BLOCK - BLOCK) * LANES, rows * LANES
    for t in range(field.shape[0]):
        for i in range(nodes):
            # what step 8 gave has been read: its place hands what enters to step 1
            stages[i * LANES + LANES - 1] = field[t, i]
        for stage in range(2):
            for i in range(nodes):
                u = load(stages, i * LANES + LANES - 1)
                if stage == 1:
                    u = (1.0 - RATIO) * u + RATIO * load(work, pad + i * LANES)
                z = flow[i] * u + drive[i] * load(state, stage * far + i * LANES)
                store(work, pad + i * LANES, z)
            _solve(work, lower, upper, inverse, pad)
            for i in range(nodes):
                s = stage * far + i * LANES
                store(state, s, 2.0 * load(work, pad + i * LANES) - load(state, s))
        for i in range(nodes):
            y = load(work, pad + i * LANES)
            store(stages, (i + 1) * LANES, y)
            field[t, i] = stages[(i + 1) * LANES + LANES - 1]


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _solve(
    work: FloatArray, lower: FloatArray, upper: FloatArray, inverse: FloatArray, pad: int
) -> None:
    """Solve for eight right sides at once, in place: forward, then back, four rows together."""
    inside = lower.shape[1] - BLOCK * BLOCK
    for n in range(lower.shape[0]):
        at = pad + n * BLOCK * LANES
        a, b = load(work, at), load(work, at + LANES)
        c, d = load(work, at + 2 * LANES), load(work, at + 3 * LANES)
        a, b, c, d = _rows(work, at - LANES, -LANES, lower[n], inside, a, b, c, d)
        store(work, at, a)
        store(work, at + LANES, b)
        store(work, at + 2 * LANES, c)
        store(work, at + 3 * LANES, d)
    for n in range(lower.shape[0] - 1, -1, -1):
        at, i = pad + n * BLOCK * LANES, n * BLOCK
        a = inverse[i + 3] * load(work, at + 3 * LANES)
        b = inverse[i + 2] * load(work, at + 2 * LANES)
        c, d = inverse[i + 1] * load(work, at + LANES), inverse[i] * load(work, at)
        near = at + BLOCK * LANES
        a, b, c, d = _rows(work, near, LANES, upper[n], inside, a, b, c, d)
        store(work, at, d)
        store(work, at + LANES, c)
        store(work, at + 2 * LANES, b)
        store(work, at + 3 * LANES, a)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _rows(
    work: FloatArray, near: int, onward: int, factors: FloatArray, inside: int,
    a: "Row", b: "Row", c: "Row", d: "Row",
) -> "tuple[Row, Row, Row, Row]":  # fmt: skip
    """Four rows of one sweep: what the nodes before the block add, then the block's own."""
    for k in range(0, inside, BLOCK):
        z = load(work, near)
        near += onward
        a = fused(splat(factors[k]), z, a)
        b = fused(splat(factors[k + 1]), z, b)
        c = fused(splat(factors[k + 2]), z, c)
        d = fused(splat(factors[k + 3]), z, d)
    b = fused(splat(factors[inside + 1]), a, b)
    c = fused(splat(factors[inside + 2]), a, c)
    d = fused(splat(factors[inside + 3]), a, d)
    c = fused(splat(factors[inside + 6]), b, c)
    d = fused(splat(factors[inside + 7]), b, d)
    return a, b, c, fused(splat(factors[inside + 11]), c, d)
