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

import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numba import njit

from tailrace.errors import AccuracyError, BudgetError
from tailrace.parts.tube.radial import radial_scheme
from tailrace.parts.tube.vector import LANES, load, splat, store
from tailrace.signals.band import Band
from tailrace.signals.cubic import aligned, doubled, halved

GAMMA = 1.0 - np.sqrt(0.5)
RATIO = (1.0 - GAMMA) / GAMMA
BLOCK = LANES
"""Lanes that travel together in one kernel call."""
CHUNK = 256
MOST_INSTANTS = 4_000_000
MOST_WORK = 5e9
"""Unknowns times stages that one tube may take for a block of lanes: minutes on one processor."""
TAIL = 5.0
"""Residence times that a tube takes to empty, roughly, for the estimate of the work."""
FEWEST_RINGS, MOST_RINGS = 32, 160
FEWEST_STATIONS, MOST_STATIONS = 16, 512
STATIONS_PER_WIDTH = 230
"""For each unit, a^2/D, by which the standard deviation grows along the tube."""


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
    mixing = np.broadcast_to(tube.mixing_number(stream), (band.lanes,))
    residence = np.broadcast_to(tube.residence(stream), (band.lanes,))
    width = sharpness(band)
    rings, stations = grid(mixing, residence, width, resolution)
    instants = band.values.shape[1] + TAIL * np.max(residence / band.step)
    if 2 * instants * rings * stations > MOST_WORK:
        raise BudgetError(
            f"{tube.name}: {instants:.2g} instants would be needed, minutes of work for this tube "
            "alone: what is injected is too brief against the time in the tube; inject more, or "
            "use a shorter tube"
        )
    run = _Run(mixing, residence, width, rings, resolution.cut)
    fine = run.through(band, stations)
    coarse = doubled(run.through(halved(band), stations // 2))
    start = np.minimum(fine.start, coarse.start)
    reach = np.maximum(_end(fine), _end(coarse)) - start
    count = int(np.max(np.rint(reach / fine.step))) + 1
    fine, coarse = aligned(fine, start, count), aligned(coarse, start, count)
    return Band((4 * fine.values - coarse.values) / 3, start, fine.step)


def _end(band):
    return band.start + band.step * (band.values.shape[1] - 1)


def sharpness(band):
    """Standard deviation of the Gaussian that would be as steep as this band. (lanes,) array, s."""
    slopes = np.diff(band.values, axis=1, prepend=0.0, append=0.0) / band.step[:, None]
    return np.sqrt((band.values**2).sum(axis=1) / (2 * (slopes**2).sum(axis=1)))


def grid(mixing, residence, width, resolution):
    """Choose rings and stations for the lane that needs most of them.

    Parameters
    ----------
    mixing : (lanes,) array, 1
    residence, width : (lanes,) array, s
        ``width`` is the sharpness of the band that enters.
    resolution : Resolution

    Returns
    -------
    rings, stations : int
        Stations are even, since the second march takes every other one. The factors are set
        from the error of each discretisation alone in the frequency domain, for 1e-4 in L2.
    """
    smoothed = np.hypot(width / residence, 0.15 * np.minimum(mixing, 1.0))
    edge = np.sqrt(0.008 / smoothed)  # narrower fronts cross more rings while they last
    wall = (0.1 / mixing) ** 0.2  # the layer at the wall of a short tube is thin
    rings = np.clip(FEWEST_RINGS * np.maximum(edge, wall).max(), FEWEST_RINGS, MOST_RINGS)
    spread_in = width / residence * mixing
    spread_out = np.hypot(spread_in, np.sqrt(mixing / 24))
    stations = np.clip(
        (STATIONS_PER_WIDTH * (spread_out - spread_in)).max(), FEWEST_STATIONS, MOST_STATIONS
    )
    fineness = resolution.fineness
    return int(np.ceil(rings * fineness)), 2 * int(np.ceil(stations * fineness / 2))


class _Run:
    """What both marches through one tube share."""

    def __init__(self, mixing, residence, width, rings, cut):
        self.mixing, self.residence, self.width, self.cut = mixing, residence, width, cut
        self.scheme = radial_scheme(rings)

    def through(self, band, stations):
        lanes = band.lanes
        blocks = [slice(first, min(first + BLOCK, lanes)) for first in range(0, lanes, BLOCK)]
        with ThreadPoolExecutor(thread_count()) as pool:
            pieces = list(pool.map(lambda block: self._block(band, block, stations), blocks))
        count = max(piece.shape[1] for piece in pieces)
        outlet = np.zeros((lanes, count))
        for block, piece in zip(blocks, pieces, strict=True):
            outlet[block, : piece.shape[1]] = piece
        return Band(outlet, band.start + self.residence / 2, band.step)

    def _block(self, band, block, stations):
        filled = block.stop - block.start
        lane = np.minimum(np.arange(BLOCK), filled - 1) + block.start  # the last lane fills up
        mixing = self.mixing[lane]
        step = band.step[lane] * mixing / self.residence[lane]
        width = self.width[lane] * mixing / self.residence[lane]
        lengths = station_lengths(mixing, width, stations)
        factors = _factored(self.scheme, lengths, step)
        inlet = np.ascontiguousarray(band.values[lane].T)
        return _streamed(self.scheme, factors, inlet, self.cut)[:filled]


def station_lengths(mixing, width, stations):
    """Steps along the tube, growing as the band spreads.

    Parameters
    ----------
    mixing, width : (lanes,) array, 1
        Length of the tube and width of the band that enters in reduced units of length and time.
    stations : int

    Returns
    -------
    (stations, lanes) array, 1
    """
    far = np.hypot(width, np.sqrt(mixing / 24))
    fraction = np.linspace(0.0, 1.0, stations + 1)[:, None]
    edges = (width + (far - width) * fraction) ** 2
    growth = np.diff(edges, axis=0)
    return growth * (mixing / growth.sum(axis=0))


def thread_count() -> int:
    """Threads over blocks of lanes: NUMBA_NUM_THREADS, or the number of processors."""
    return int(os.environ.get("NUMBA_NUM_THREADS", os.cpu_count() or 1))


def _factored(scheme, lengths, step):
    """LU factors of every station: lower and upper scaled, inverse diagonal, and the time drive.

    Each of the first three is a (stations, nodes, lanes) array; the drive (stations, lanes).
    """
    drive = GAMMA * lengths * 2 / step
    scale = scheme.advance[None, :, None] + drive[:, None, :] * scheme.hold[None, :, None]
    weighting, exchange = scheme.weighting[None, :, :, None], scheme.exchange[None, :, :, None]
    along = GAMMA * lengths[:, None, :]
    lower, upper = np.zeros_like(scale), np.zeros_like(scale)
    lower[:, 1:] = weighting[:, 1:, 0] * scale[:, :-1] - along * exchange[:, 1:, 0]
    upper[:, :-1] = weighting[:, :-1, 2] * scale[:, 1:] - along * exchange[:, :-1, 2]
    inverse = weighting[:, :, 1] * scale - along * exchange[:, :, 1]
    inverse[:, 0] = 1 / inverse[:, 0]
    for node in range(1, scheme.hold.size):
        upper[:, node - 1] *= inverse[:, node - 1]
        inverse[:, node] = 1 / (inverse[:, node] - lower[:, node] * upper[:, node - 1])
        lower[:, node] *= inverse[:, node]
    return lower, inverse, upper, drive


def _streamed(scheme, factors, inlet, cut):
    """March until next to nothing is left in the tube; (lanes, times) array at the outlet."""
    stations, nodes, lanes = factors[0].shape
    rows = [np.ascontiguousarray(factor).reshape(-1, lanes) for factor in factors]
    state = np.zeros((stations * 2 * nodes, lanes))
    work = np.zeros((2 * nodes, lanes))
    ends = np.zeros((2, lanes))
    pieces, given = [], np.zeros(lanes)
    total = inlet.sum(axis=0)
    for first in range(0, MOST_INSTANTS, CHUNK):
        piece = inlet[first : first + CHUNK]
        piece = np.vstack([piece, np.zeros((CHUNK - len(piece), lanes))])
        outlet = np.empty_like(piece)
        _kernel(
            piece, outlet, state, work[:nodes], work[nodes:], ends, stations, scheme.advance,
            scheme.hold, scheme.weighting, scheme.flux_weights, *rows
        )  # fmt: skip
        pieces.append(outlet)
        leaving = outlet.sum(axis=0)
        given += leaving
        # what leaves a tube dies out faster than exponentially: a still chunk is the last
        emptied = np.abs(total - given) <= cut * np.abs(total)
        still = (np.abs(leaving) <= cut * np.abs(total)) & (given > total / 2)
        if first + CHUNK >= len(inlet) and np.all(emptied | still):
            return np.vstack(pieces).T
    raise AccuracyError(
        f"a tube still holds part of the band after {MOST_INSTANTS} instants: the band that "
        "enters is too sharp for this tube's residence time; use a wider injection"
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _kernel(inlet, outlet, state, u, y, ends, stations, advance, hold, weighting, flux_weights,
            lower, inverse, upper, drive):  # fmt: skip
    """Advance a block of lanes by the instants of ``inlet``.

    Rows of LANES doubles throughout. inlet, outlet (times); state (stations x 2 stages x nodes):
    the last instant; u: what enters a station; y: its first stage; ends (2): last inlet and outlet
    values; lower, inverse, upper (stations x nodes) and drive (stations): see ``_factored``.
    """
    nodes = hold.size
    for t in range(inlet.shape[0]):
        entering = 0.5 * (load(ends, 0) + load(inlet, t))
        for i in range(nodes):
            store(u, i, entering)
        for m in range(stations):
            f, s = m * nodes, 2 * m * nodes
            d = load(drive, m)
            _stage(u, u, 0.0, y, state, s, d, f, advance, hold, weighting, lower, inverse, upper)
            s += nodes
            _stage(u, y, RATIO, u, state, s, d, f, advance, hold, weighting, lower, inverse, upper)
        mean = splat(0.0)
        for i in range(nodes):
            mean = mean + flux_weights[i] * load(u, i)
        leaving = 2.0 * mean - load(ends, 1)
        store(outlet, t, leaving)
        store(ends, 0, load(inlet, t))
        store(ends, 1, leaving)


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _stage(u, v, share, y, state, s, d, f, advance, hold, weighting, lower, inverse, upper):
    """Solve one stage of one station: from u + share (v - u) and the old state to the mean y.

    s, f: first row of the state and of the factors; d: time drive. Forward, then back; the state
    is carried to the new instant on the way back. y may be u.
    """
    last = hold.size - 1
    before = splat(0.0)
    here = advance[0] * ((1.0 - share) * load(u, 0) + share * load(v, 0))
    here = here + hold[0] * d * load(state, s)
    z = splat(0.0)
    for i in range(last):
        after = advance[i + 1] * ((1.0 - share) * load(u, i + 1) + share * load(v, i + 1))
        after = after + hold[i + 1] * d * load(state, s + i + 1)
        z = (
            weighting[i, 0] * before + weighting[i, 1] * here + weighting[i, 2] * after
        ) * load(inverse, f + i) - load(lower, f + i) * z  # fmt: skip
        store(y, i, z)
        before = here
        here = after
    z = (weighting[last, 0] * before + weighting[last, 1] * here) * load(inverse, f + last) - load(
        lower, f + last
    ) * z
    store(y, last, z)
    store(state, s + last, 2.0 * z - load(state, s + last))
    for i in range(last - 1, -1, -1):
        z = load(y, i) - load(upper, f + i) * z
        store(y, i, z)
        store(state, s + i, 2.0 * z - load(state, s + i))
