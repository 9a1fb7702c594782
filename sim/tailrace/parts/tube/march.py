"""How a band goes through a tube: finite differences in radius, length and time.

Time is the outer loop and length the inner one, so that only one instant of the tube is kept::

    time n+1   inlet -> [stage 1, stage 2] -> ... station m ... -> outlet     (solve each)
    time n              [stage 1, stage 2]                                    (kept)

Radius: ``radial.py``. Length: the L-stable two-stage singly diagonally implicit Runge-Kutta method
of second order (Alexander, SIAM J. Numer. Anal. 14 (1977) 1006), stations spaced by how fast the
band spreads. Time: trapezoidal rule. A stage is one solve with three diagonals, factored
beforehand. The march is made twice, the second time with double steps in time and length, and the
two are extrapolated (Richardson): what is left is of fourth order in radius and time and of third
in length.
Molecular diffusion along the tube is left out: see ``Tube.peclet_number``.
"""

import numpy as np
from numba import njit

from tailrace.errors import AccuracyError, BudgetError
from tailrace.parts.tube.grid import grid, sharpness, station_lengths
from tailrace.parts.tube.layout import Layout
from tailrace.parts.tube.radial import radial_scheme
from tailrace.parts.tube.vector import LANES, aligned, fused, load, splat, store
from tailrace.signals import cubic
from tailrace.signals.band import Band
from tailrace.threads import in_threads

GAMMA = 1.0 - np.sqrt(0.5)
RATIO = (1.0 - GAMMA) / GAMMA
BLOCK = LANES
"""Lanes that travel together in one kernel call."""
CHUNK, CHECK = 1024, 32
"""Instants that a kernel call makes, and after which it looks whether the tube is empty."""
MOST_INSTANTS = 4_000_000
MOST_WORK = 5e9
"""Unknowns times stages that one tube may take for a block of lanes: minutes on one processor."""
TAIL = 5.0
"""Residence times that a tube takes to empty, roughly, for the estimate of the work."""


def march(tube, stream, band, resolution) -> Band:
    """Send a band through a tube.

    Parameters
    ----------
    tube : Tube
    stream : Stream
    band : Band
        Concentration in the stream that enters, uniform over the section.
    resolution : Resolution

    Returns
    -------
    Band
        Flux-averaged concentration in the stream that leaves.

    Raises
    ------
    BudgetError
        If the march would take more than ``MOST_WORK``.
    AccuracyError
        If the tube has not emptied after ``MOST_INSTANTS`` instants.
    """
    fourier = np.broadcast_to(tube.fourier_number(stream), (band.lanes,))
    residence = np.broadcast_to(tube.residence(stream), (band.lanes,))
    width = sharpness(band)
    rings, stations = grid(fourier, residence, width, resolution)
    instants = band.values.shape[1] + TAIL * np.max(residence / band.step)
    if 2 * instants * rings * stations > MOST_WORK:
        raise BudgetError(
            f"{tube.name}: {instants:.2g} instants would be needed, minutes of work for this tube "
            "alone: what is injected is too brief against the time in the tube; inject more, or "
            "use a shorter tube"
        )
    run = _Run(fourier, residence, width, rings, resolution.truncation)
    fine = run.through(band, stations)
    coarse = cubic.doubled(run.through(cubic.halved(band), stations // 2))
    start = np.minimum(fine.start, coarse.start)
    reach = np.maximum(_end(fine), _end(coarse)) - start
    count = int(np.max(np.rint(reach / fine.step))) + 1
    fine, coarse = (cubic.aligned(made, start, count) for made in (fine, coarse))
    return Band((4 * fine.values - coarse.values) / 3, start, fine.step)


def _end(band):
    return band.start + band.step * (band.values.shape[1] - 1)


class _Run:
    """What both marches through one tube share."""

    def __init__(self, fourier, residence, width, rings, cut):
        self.fourier, self.residence, self.cut = fourier, residence, cut
        self.width = width * fourier / residence
        self.scheme = radial_scheme(rings)

    def through(self, band, stations):
        lengths = station_lengths(self.fourier, self.width, stations)
        step = band.step * self.fourier / self.residence
        lanes = band.lanes

        def piece(first):
            filled = min(BLOCK, lanes - first)
            together = 1 << (filled - 1).bit_length()
            some = np.minimum(np.arange(together), filled - 1) + first  # the last lane fills up
            layout = Layout(stations, together)
            factors = _factored(self.scheme, layout, lengths[:, some], step[some])
            inlet = band.values[some].T
            return _streamed(self.scheme, layout, factors, inlet, self.cut)[:filled]

        blocks = range(0, lanes, BLOCK)
        pieces = in_threads(piece, blocks)
        outlet = np.zeros((lanes, max(piece.shape[1] for piece in pieces)))
        for first, piece in zip(blocks, pieces, strict=True):
            outlet[first : first + len(piece), : piece.shape[1]] = piece
        return Band(outlet, band.start + self.residence / 2, band.step)


def _factored(scheme, layout, lengths, step):
    """LU factors of every station, and the time drive, as ``layout`` places them.

    lower, inverse, upper: (nodes x stride,) arrays, lower and upper with their signs turned;
    drive: (stride,) array. Outside the tube ``inverse`` is 0, and so is what comes of it.
    """
    along = GAMMA * lengths
    drive = layout.placed(along * 2 / step, 1.0)
    inside = layout.placed(np.ones_like(along), 0.0)
    lower, inverse, upper = (aligned(scheme.hold.size * layout.stride) for _ in range(3))
    _factor(
        layout.placed(along, 0.0), drive, inside, scheme.advance, scheme.hold, scheme.weighting,
        scheme.exchange, lower, inverse, upper
    )  # fmt: skip
    return lower, inverse, upper, drive


def _streamed(scheme, layout, factors, inlet, cut):
    """March until next to nothing is left in the tube; (lanes, times) array at the outlet."""
    lanes, nodes = layout.lanes, scheme.hold.size
    count = len(inlet)
    entering = np.zeros((CHUNK * (count // CHUNK + 1), lanes))
    entering[:count] = inlet / 2
    entering[1 : count + 1] += inlet / 2
    state = aligned(2 * nodes * layout.stride)
    u, y = aligned(nodes * LANES), aligned(nodes * LANES)
    slots = np.repeat(np.eye(LANES // lanes), lanes)
    advance = scheme.advance
    last, given, total = np.zeros(lanes), np.zeros(lanes), inlet.sum(axis=0)
    pieces, nothing = [], np.zeros((CHUNK, lanes))
    for first in range(0, MOST_INSTANTS, CHUNK):
        outlet = np.empty((CHUNK, lanes))
        before = given.copy()
        done = _kernel(
            entering[first : first + CHUNK] if first < len(entering) else nothing, outlet,
            count - first, last, given, total, cut, state, u, y, slots, layout.stations, advance,
            (1 - RATIO) * advance, RATIO * advance, 2 * scheme.hold, scheme.weighting,
            scheme.flux_weights, *factors
        )  # fmt: skip
        pieces.append(outlet[:done])
        # what leaves a tube dies out faster than exponentially: a still chunk is the last
        still = (np.abs(given - before) <= cut * np.abs(total)) & (given > total / 2)
        emptied = np.abs(total - given) <= cut * np.abs(total)
        if first + done >= count and np.all(emptied | still):
            return np.concatenate(pieces).T
    raise AccuracyError(
        f"a tube still holds part of the band after {MOST_INSTANTS} instants: the band that "
        "enters is too sharp for this tube's residence time; use a wider injection"
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _factor(along, drive, inside, advance, hold, weighting, exchange, lower, inverse, upper):
    """Write the factors. along (stride): GAMMA times a station's length; inside: 1 in the tube."""
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
def _kernel(inlet, outlet, begun, last, given, total, cut, state, u, y, slots, stations, advance,
            first, second, hold, weighting, flux_weights, lower, inverse, upper,
            drive):  # fmt: skip
    """Advance a block of lanes by the instants of ``inlet``, or until it is empty; their number.

    A row of LANES numbers is ``waves`` instants of all lanes, while the first of them is at station
    m each of the others one station behind the one before it: see ``layout.py``.

    inlet: mean of this instant and the last; begun: instants until all has entered; last, given
    (lanes): last value and sum so far at the outlet; state (2 stages x nodes x stride): the last
    instant times ``hold``; u: what enters a station; y: its first stage; slots (waves): ones
    where a row holds that instant; first, second: ``advance`` times 1 - RATIO and RATIO; hold:
    twice the scheme's; lower, inverse, upper, drive: see ``_factored``.
    """
    nodes, stride, lanes = hold.size, drive.size, last.size
    waves = LANES // lanes
    inflow, mean = inlet.ravel(), np.zeros(LANES)
    for t in range(0, inlet.shape[0], waves):
        entering, leaving = load(inflow, t * lanes), splat(0.0)
        for i in range(nodes):
            store(u, i * LANES, splat(0.0))
        for m in range(stations + waves - 1):
            if m < waves:
                joining = load(slots, m * LANES) * entering
                for i in range(nodes):
                    store(u, i * LANES, load(u, i * LANES) + joining)
            s = (stations + waves - 2 - m) * lanes
            d = load(drive, s)
            _stage(u, advance, y, None, y, state, s, s, d, stride, hold, weighting, lower, inverse,
                   upper)  # fmt: skip
            _stage(u, first, y, second, u, state, s + nodes * stride, s, d, stride, hold,
                   weighting, lower, inverse, upper)  # fmt: skip
            if m >= stations - 1:
                average = splat(0.0)
                for i in range(nodes):
                    average = average + flux_weights[i] * load(u, i * LANES)
                leaving = leaving + load(slots, (m - stations + 1) * LANES) * average
        store(mean, 0, leaving)
        emptied = True
        for k in range(waves):
            for lane in range(lanes):
                last[lane] = 2.0 * mean[k * lanes + lane] - last[lane]
                outlet[t + k, lane] = last[lane]
                given[lane] += last[lane]
        if (t + waves) % CHECK == 0 and t + waves >= begun:
            for lane in range(lanes):
                emptied = emptied and abs(total[lane] - given[lane]) <= cut * abs(total[lane])
            if emptied:
                return t + waves
    return inlet.shape[0]


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _stage(u, first, v, second, y, state, s, f, d, stride, hold, weighting, lower, inverse,
           upper):  # fmt: skip
    """Solve one stage of one station: from first u + second v and the old state to the mean y.

    s, f: where the state and the factors stand; d: time drive. Forward, then back; the state is
    carried to the new instant on the way back. second may be None; y may be u or v.
    """
    last = hold.size - 1
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
