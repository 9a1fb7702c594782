"""How a band goes through a tube: finite differences in radius, length and time.

Time is the outer loop and length the inner one, so that only one moment of the tube is kept::

    time n+1   inlet -> [stage 1, stage 2] -> ... axial step m ... -> outlet     (solve each)
    time n              [stage 1, stage 2]                                       (kept)

Radius: ``radial.py``. Length: ``SDIRK2``, steps spaced by how fast the band spreads. Time:
trapezoidal rule. A stage is one solve with three diagonals, factored beforehand. ``dense.py``
writes the discrete equations out and solves them by plain linear algebra. The march is made twice,
the second time with double steps in time and length, and the two are extrapolated (Richardson):
what is left is of fourth order in radius and time and of third in length.
Molecular diffusion along the tube is left out: see ``Tube.peclet_number``.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numba import njit

from tailrace.eluent.stream import Stream
from tailrace.errors import AccuracyError, BudgetError
from tailrace.parts.tube import edges
from tailrace.parts.tube.grid import axial_steps, grid, sharpness, widths
from tailrace.parts.tube.layout import Layout
from tailrace.parts.tube.part import Tube
from tailrace.parts.tube.radial import RadialScheme, radial_scheme
from tailrace.parts.tube.vector import LANES, aligned, fused, load, splat, store
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.signals.cubic import extrapolated, halved
from tailrace.signals.resolution import Resolution
from tailrace.signals.tableau import SDIRK2
from tailrace.threads import in_threads

GAMMA = float(SDIRK2.stages[0, 0])
RATIO = float(SDIRK2.stages[1, 0]) / GAMMA
"""What the second stage takes of the first slope, over what the first takes of it."""
BLOCK = LANES
"""Lanes that travel together in one kernel call."""
CHUNK, CHECK = 1024, 32
"""Time steps that a kernel call makes, and after which it looks whether the tube is empty."""
MOST_TIME_STEPS = 4_000_000
MOST_WORK = 5e9
"""Unknowns times stages that one tube may take for a block of lanes: minutes on one processor."""
TAIL = 5.0
"""Residence times that a tube takes to empty, roughly, for the estimate of the work."""


class Coefficients(NamedTuple):
    """The radial scheme as the stages need it: (nodes,) arrays, 1.

    ``advance`` and its products with 1 - RATIO (``first``) and RATIO (``second``); ``hold``: twice
    the scheme's; ``weighting`` (nodes, 3); ``flux_weights``.
    """

    advance: FloatArray
    first: FloatArray
    second: FloatArray
    hold: FloatArray
    weighting: FloatArray
    flux_weights: FloatArray


class Factors(NamedTuple):
    """LU factors of every axial step, and the time drive, as ``layout`` places them.

    lower, inverse, upper: (nodes x stride,) arrays, lower and upper with their signs turned;
    drive: (stride,) array. Outside the tube ``inverse`` is 0, and so is what comes of it.
    """

    lower: FloatArray
    inverse: FloatArray
    upper: FloatArray
    drive: FloatArray


class Moment(NamedTuple):
    """What is in the tube: ``state`` (2 stages x nodes x stride) the last time step times ``hold``;
    ``u`` (nodes x LANES) what enters an axial step, ``y`` its first stage; ``slots`` (waves x
    LANES): ones where a row holds that time step."""

    state: FloatArray
    u: FloatArray
    y: FloatArray
    slots: FloatArray


class Outflow(NamedTuple):
    """At the outlet, (lanes,) arrays: last value, sum so far, and the sum that has entered."""

    last: FloatArray
    given: FloatArray
    total: FloatArray


def march(tube: Tube, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a tube.

    What enters is uniform over the section, what leaves is the flux average. Raises BudgetError if
    the march would take more than ``MOST_WORK``. Raises AccuracyError if the tube has not emptied
    after ``MOST_TIME_STEPS``.
    """
    fourier = np.broadcast_to(tube.fourier_number(stream), (1, band.lanes))
    residence = np.broadcast_to(tube.residence(stream), (1, band.lanes))
    return along(fourier, residence, band, resolution)


def along(fourier: FloatArray, residence: FloatArray, band: Band, resolution: Resolution) -> Band:
    """Send a band through tubes behind each other, each streamline on its way.

    In units of its own bore each tube is the same one, with time steps of its own; so are the
    places over the bore, and the profile enters as it left.

    Parameters
    ----------
    fourier : (tubes, lanes) array, 1
    residence : (tubes, lanes) array, s

    Raises
    ------
    BudgetError, AccuracyError
        As of ``march``.
    """
    width, doublings = sharpness(band), edges.doublings(band, fourier, residence, resolution)
    wider = edges.doubled_steps(band, doublings)[-1]
    left = _marched(fourier, residence, width, wider, resolution)
    if not doublings:
        return left
    fourier, residence, width = (np.tile(one, doublings + 1) for one in (fourier, residence, width))
    steps = edges.steps(band, doublings)
    fronts = _marched(fourier, residence, width, steps, resolution, whole=False)
    return edges.sharpened(left, fronts, band.jumps, doublings)


def _marched(
    fourier: FloatArray,
    residence: FloatArray,
    width: FloatArray,
    band: Band,
    resolution: Resolution,
    whole: bool = True,
) -> Band:
    """March twice and extrapolate; on a grid for bands of a width, (lanes,) array, s.

    whole: until the tube is empty; else for as long as the inlet is given.
    """
    nodes, steps = grid(fourier, residence, width, resolution)
    times = band.values.shape[1] + TAIL * np.max(residence.sum(axis=0) / band.step)
    if whole and 2 * times * (nodes - 1) * sum(steps) > MOST_WORK:
        raise BudgetError(
            f"{times:.2g} time steps would be needed, minutes of work for this tube alone: what is "
            "injected is too brief against the time in the tube; inject more, or use a shorter tube"
        )
    run = _Run(fourier, residence, width, nodes, resolution.truncation if whole else None)
    fine = run.through(band, steps)
    coarse = run.through(halved(band), [count // 2 for count in steps])
    return extrapolated(fine, coarse, order=2)


class _Run:
    """What both marches through one tube share; without a truncation, while the inlet is given."""

    def __init__(
        self,
        fourier: FloatArray,
        residence: FloatArray,
        width: FloatArray,
        nodes: int,
        truncation: float | None,
    ) -> None:
        self.fourier, self.residence, self.truncation = fourier, residence, truncation
        self.units = residence / fourier
        self.width = widths(fourier, self.units, width)
        self.scheme = radial_scheme(nodes)

    def through(self, band: Band, steps: Sequence[int]) -> Band:
        lengths = np.concatenate(
            [axial_steps(*each) for each in zip(self.fourier, self.width, steps, strict=True)]
        )
        step = np.repeat(band.step / self.units, steps, axis=0)
        lanes = band.lanes

        def piece(first: int) -> FloatArray:
            filled = min(BLOCK, lanes - first)
            together = 1 << (filled - 1).bit_length()
            some = np.minimum(np.arange(together), filled - 1) + first  # the last lane fills up
            layout = Layout(len(lengths), together)
            factors = _factored(self.scheme, layout, lengths[:, some], step[:, some])
            inlet = band.values[some].T
            return _streamed(self.scheme, layout, factors, inlet, self.truncation)[:filled]

        blocks = range(0, lanes, BLOCK)
        pieces = in_threads(piece, blocks)
        outlet = np.zeros((lanes, max(piece.shape[1] for piece in pieces)))
        for first, left in zip(blocks, pieces, strict=True):
            outlet[first : first + len(left), : left.shape[1]] = left
        return Band(outlet, band.start + self.residence.sum(axis=0) / 2, band.step)


def _factored(
    scheme: RadialScheme, layout: Layout, lengths: FloatArray, step: FloatArray
) -> Factors:
    along = GAMMA * lengths
    drive = layout.placed(along * 2 / step, 1.0)
    inside = layout.placed(np.ones_like(along), 0.0)
    lower, inverse, upper = (aligned(scheme.hold.size * layout.stride) for _ in range(3))
    factors = Factors(lower, inverse, upper, drive)
    _factor(
        layout.placed(along, 0.0), inside, scheme.advance, scheme.hold, scheme.weighting,
        scheme.exchange, factors
    )  # fmt: skip
    return factors


def _coefficients(scheme: RadialScheme) -> Coefficients:
    advance = scheme.advance
    first, second = (1 - RATIO) * advance, RATIO * advance
    return Coefficients(
        advance, first, second, 2 * scheme.hold, scheme.weighting, scheme.flux_weights
    )


def _streamed(
    scheme: RadialScheme,
    layout: Layout,
    factors: Factors,
    inlet: FloatArray,
    truncation: float | None,
) -> FloatArray:
    """March until next to nothing is left in the tube; (lanes, times) array at the outlet.

    Without a ``truncation``: while the inlet is given.
    """
    lanes, nodes = layout.lanes, scheme.hold.size
    count = len(inlet)
    entering = np.zeros((CHUNK * (count // CHUNK + 1), lanes))
    entering[:count] = inlet / 2
    entering[1 : count + 1] += inlet / 2
    moment = Moment(
        state=aligned(2 * nodes * layout.stride),
        u=aligned(nodes * LANES),
        y=aligned(nodes * LANES),
        slots=np.repeat(np.eye(LANES // lanes), lanes),
    )
    outflow = Outflow(np.zeros(lanes), np.zeros(lanes), inlet.sum(axis=0))
    coefficients = _coefficients(scheme)
    given, total = outflow.given, outflow.total
    if truncation is None:
        some = entering[: -(-count // LANES) * LANES]
        outlet, never = np.empty_like(some), len(some) + CHECK
        _kernel(some, outlet, never, 0.0, layout.steps, coefficients, factors, moment, outflow)
        return outlet[:count].T
    pieces, nothing = [], np.zeros((CHUNK, lanes))
    for first in range(0, MOST_TIME_STEPS, CHUNK):
        outlet = np.empty((CHUNK, lanes))
        before = given.copy()
        done = _kernel(
            entering[first : first + CHUNK] if first < len(entering) else nothing, outlet,
            count - first, truncation, layout.steps, coefficients, factors, moment, outflow
        )  # fmt: skip
        pieces.append(outlet[:done])
        # what leaves a tube dies out faster than exponentially: a still chunk is the last
        still = (np.abs(given - before) <= truncation * np.abs(total)) & (given > total / 2)
        emptied = np.abs(total - given) <= truncation * np.abs(total)
        if first + done >= count and np.all(emptied | still):
            return np.concatenate(pieces).T
    raise AccuracyError(
        f"a tube still holds part of the band after {MOST_TIME_STEPS} time steps: the band that "
        "enters is too sharp for this tube's residence time; use a wider injection"
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _factor(
    along: FloatArray,
    inside: FloatArray,
    advance: FloatArray,
    hold: FloatArray,
    weighting: FloatArray,
    exchange: FloatArray,
    factors: Factors,
) -> None:
    """Write the factors. along (stride): GAMMA times the axial step; inside: 1 in the tube."""
    lower, inverse, upper, drive = factors
    last, stride = hold.size - 1, along.size
    for j in range(0, stride, LANES):
        a, d, one = load(along, j), load(drive, j), load(inside, j)
        scale = splat(advance[0]) + hold[0] * d
        before, above = splat(0.0), splat(0.0)
        for i in range(last + 1):
            f = i * stride + j
            below = weighting[i, 0] * before - exchange[i, 0] * a
            pivot = one / (scale - exchange[i, 1] * a + below * above)
            before = scale
            if i < last:
                scale = splat(advance[i + 1]) + hold[i + 1] * d
                above = (exchange[i, 2] * a - weighting[i, 2] * scale) * pivot
            store(lower, f, splat(0.0) - below * pivot)
            store(inverse, f, pivot)
            store(upper, f, above)


@njit(cache=True, nogil=True, error_model="numpy")
def _kernel(
    inlet: FloatArray,
    outlet: FloatArray,
    begun: int,
    truncation: float,
    steps: int,
    coefficients: Coefficients,
    factors: Factors,
    moment: Moment,
    outflow: Outflow,
) -> int:
    """Advance a block of lanes by the time steps of ``inlet``, or until it is empty; their number.

    A row of LANES numbers is ``waves`` time steps of all lanes; while the first of them is at axial
    step m each of the others is one axial step behind the one before it: see ``layout.py``.

    inlet: mean of this time step and the last; begun: time steps until all has entered; steps:
    axial ones. Of the groups ``moment`` and ``outflow`` are written.
    """
    state, u, y, slots = moment
    last, given, total = outflow
    drive, hold, flux_weights = factors.drive, coefficients.hold, coefficients.flux_weights
    nodes, stride, lanes = hold.size, drive.size, last.size
    waves = LANES // lanes
    inflow, mean = inlet.ravel(), np.zeros(LANES)
    for t in range(0, inlet.shape[0], waves):
        entering, leaving = load(inflow, t * lanes), splat(0.0)
        for i in range(nodes):
            store(u, i * LANES, splat(0.0))
        for m in range(steps + waves - 1):
            if m < waves:
                joining = load(slots, m * LANES) * entering
                for i in range(nodes):
                    store(u, i * LANES, load(u, i * LANES) + joining)
            s = (steps + waves - 2 - m) * lanes
            _stage(u, coefficients.advance, y, None, y, state, s, s, coefficients, factors)
            _stage(u, coefficients.first, y, coefficients.second, u, state, s + nodes * stride, s,
                   coefficients, factors)  # fmt: skip
            if m >= steps - 1:
                average = splat(0.0)
                for i in range(nodes):
                    average = average + flux_weights[i] * load(u, i * LANES)
                leaving = leaving + load(slots, (m - steps + 1) * LANES) * average
        store(mean, 0, leaving)
        emptied = True
        for k in range(waves):
            for lane in range(lanes):
                last[lane] = 2.0 * mean[k * lanes + lane] - last[lane]
                outlet[t + k, lane] = last[lane]
                given[lane] += last[lane]
        if (t + waves) % CHECK == 0 and t + waves >= begun:
            for lane in range(lanes):
                held = total[lane] - given[lane]
                emptied = emptied and abs(held) <= truncation * abs(total[lane])
            if emptied:
                return t + waves
    return len(inlet)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _stage(
    u: FloatArray,
    first: FloatArray,
    v: FloatArray,
    second: FloatArray | None,
    y: FloatArray,
    state: FloatArray,
    s: int,
    f: int,
    coefficients: Coefficients,
    factors: Factors,
) -> None:
    """Solve one stage of one axial step: from first u + second v and the old state to the mean y.

    s, f: where the state and the factors stand. Forward, then back; the state is carried to the
    new time step on the way back. second may be None; y may be u or v.
    """
    lower, inverse, upper, drive = factors
    hold, weighting = coefficients.hold, coefficients.weighting
    last, stride, d = hold.size - 1, drive.size, load(drive, f)
    before, z = splat(0.0), splat(0.0)
    here = first[0] * load(u, 0) + d * load(state, s)
    if second is not None:
        here = here + second[0] * load(v, 0)
    for i in range(last):
        j = (i + 1) * LANES
        after = first[i + 1] * load(u, j) + d * load(state, s + (i + 1) * stride)
        if second is not None:
            after = after + second[i + 1] * load(v, j)
        given = here + weighting[i, 0] * before + weighting[i, 2] * after
        z = fused(load(lower, f + i * stride), z, given * load(inverse, f + i * stride))
        store(y, i * LANES, z)
        before, here = here, after
    given = here + weighting[last, 0] * before
    z = fused(load(lower, f + last * stride), z, given * load(inverse, f + last * stride))
    store(y, last * LANES, z)
    store(state, s + last * stride, hold[last] * z - load(state, s + last * stride))
    for i in range(last - 1, -1, -1):
        z = fused(load(upper, f + i * stride), z, load(y, i * LANES))
        store(y, i * LANES, z)
        store(state, s + i * stride, hold[i] * z - load(state, s + i * stride))
