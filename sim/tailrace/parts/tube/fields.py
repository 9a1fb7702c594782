"""What is in a tube at given moments: concentration over radius and length.

Legendre polynomials of x = (r/a)^2 over the radius, Laplace's transform over time, and the exact
exponential of a matrix along the tube. With s = D z/(a^2 U), time in a^2/D and b the amplitudes of
the polynomials,

    F b' = -(G + p) b ,   F of the flow 2 (1 - x), G of 4 (x c_x)_x ,

which starts with a band that is uniform over the section. Why not the march of ``march.py``: its
stations stand at retarded times of their own and its quadrature along the tube is of third order.
Here every value is the *mean* over a ring of the radius and a section of the length, integrated in
closed form over both. So the amount in the tube is the plain sum of value times volume, on a grid
however coarse, and with any number of polynomials it is what has entered less what has left: row
0 of G is zero.

Back to time as ``waves.py`` says. Molecular diffusion along the tube is left out: see
``Tube.peclet_number``.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeAlias

import numpy as np
from numpy.polynomial import legendre
from scipy.linalg import expm

from tailrace.eluent.stream import Stream
from tailrace.errors import AccuracyError
from tailrace.parts.tube.part import Tube
from tailrace.parts.tube.waves import Waves, transformed
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.band import Band
from tailrace.threads import linear_algebra_alone

Progress: TypeAlias = Callable[[int, int], object]
Grid: TypeAlias = tuple[float, int, int]
"""Fourier number, rings, sections."""

POLYNOMIALS = (16, 24, 32, 48, 64, 96, 128)
TOLERANCE = 1e-3
"""What more polynomials may change, over the highest value that enters."""
DAMPING = np.log(1e6)
"""What the signal is damped by over one period; the next period shows through by its inverse."""
CHUNK = 64


@dataclass(frozen=True, kw_only=True)
class TubeField:
    """What is in a tube, one lane.

    Parameters
    ----------
    times : (times,) array, s
        The moments, from the start of the injection.
    values : (times, rings, sections) array, 1/s
        Concentration in the band's unit, the mean over each ring (equal steps of the radius, from
        the axis) and each section (equal steps of the length, from the inlet).
    entered, left : (times,) array, 1
        Amount that has entered and left the tube by then, over that injected.
    outlet : Band
        Flux-averaged concentration of the stream that leaves, up to the last moment.
    plane : (times, 2 rings, sections) array, 1/s, or None
        Concentration in the plane of a bend, from the inner wall to the outer one.
    across : (times, places, points, points) array, 1/s, or None
        Over the section of a bent tube at a few places, outward to the right; NaN outside.
    """

    times: FloatArray
    values: FloatArray
    entered: FloatArray
    left: FloatArray
    outlet: Band
    plane: FloatArray | None = None
    across: FloatArray | None = None


def tube_field(
    tube: Tube,
    stream: Stream,
    band: Band,
    times: FloatArray,
    rings: int,
    sections: int,
    until: float | None = None,
    progress: Progress | None = None,
) -> TubeField:
    """Compute what is in a tube at given moments; stream and band of one lane.

    Raises BudgetError if more than ``MOST_FREQUENCIES`` would be needed. Raises AccuracyError if
    ``POLYNOMIALS`` do not suffice: the inlet is too sharp for so short a tube.

    Parameters
    ----------
    band : Band
        Concentration in the stream that enters, uniform over the section.
    times : (times,) array, s
        Any moments; before the band's first sample the tube is empty.
    until : float, s, optional
        Up to when the outlet signal is wanted, if longer than the last moment.
    progress : callable, optional
        Called as ``progress(done, total)``; most often it is done before the total.
    """
    times = np.asarray(times, dtype=float)
    late = times.max() if until is None else max(times.max(), until)
    if tube.manner:
        return _bent(tube, stream, band, times, (rings, sections), late, progress)
    fourier = float(np.ravel(tube.fourier_number(stream))[0])
    radial_time = float(np.ravel(tube.residence(stream))[0]) / fourier
    waves = transformed(band, late, tube.name, DAMPING)
    values, passed = _settled(waves, times, radial_time, (fourier, rings, sections), progress)
    return TubeField(
        times=times,
        values=np.where((times > waves.start)[:, None, None], values, 0.0),
        entered=waves.amount(1.0, times),
        left=waves.amount(passed, times),
        outlet=waves.signal(passed, late),
    )


def _bent(
    tube: Tube,
    stream: Stream,
    band: Band,
    times: FloatArray,
    grid: tuple[int, int],
    late: float,
    progress: Progress | None,
) -> TubeField:
    """Of one that is bent, or that takes over a profile: from where the band was uniform."""
    from tailrace.parts.tube.bent import fields

    own = tube.chains(stream)[0]
    before = band.upstream if tube.carries_over else None
    uniform, way = (before.band, list(before.ways[0])) if before else (band, [])
    waves = transformed(uniform, late, tube.name, fields.DAMPING)
    found = fields.settled(waves, way, own, times, grid, progress)
    come = (times > waves.start)[:, None, None]
    return TubeField(
        times=times,
        values=np.where(come, found.rings, 0.0),
        entered=waves.amount(found.entered, times),
        left=waves.amount(found.passed, times),
        outlet=waves.signal(found.passed, late),
        plane=np.where(come, found.plane, 0.0),
        across=np.where(come[..., None], found.across, found.across * 0.0),
    )


def _settled(
    waves: Waves, times: FloatArray, radial_time: float, grid: Grid, progress: Progress | None
) -> tuple[FloatArray, ComplexArray]:
    """Take more polynomials until the values at the moments asked for stay as they are.

    They converge faster than any power, so the last are much better than their change says.
    """
    before, size = None, waves.rates.size
    for turn, count in enumerate(POLYNOMIALS):

        def report(done: int, turn: int = turn) -> None:
            if progress is not None:
                progress(turn * size + done, len(POLYNOMIALS) * size)

        # So small matrices are slower on many threads, and sums would depend on their number.
        with linear_algebra_alone():
            values, passed = _summed(waves, times, radial_time, grid, count, report)
        if before is not None and np.max(np.abs(values - before)) < TOLERANCE * waves.height:
            return values, passed
        before = values
    raise AccuracyError(
        f"{POLYNOMIALS[-1]} polynomials over the radius do not resolve a tube of Fourier number "
        f"{grid[0]:.2g} at this sharp inlet; inject more, or choose a longer tube"
    )


def _summed(
    waves: Waves,
    times: FloatArray,
    radial_time: float,
    grid: Grid,
    count: int,
    report: Callable[[int], None],
) -> tuple[FloatArray, ComplexArray]:
    """Means over rings and sections at the moments, and what leaves at each frequency."""
    _, rings, sections = grid
    values = np.zeros((times.size, rings * sections))
    passed = np.empty(waves.rates.size, complex)
    for first in range(0, passed.size, CHUNK):
        some = slice(first, min(first + CHUNK, passed.size))
        means, passed[some] = _along(waves.rates[some] * radial_time, grid, count)
        means = means.reshape(some.stop - first, -1)
        back = waves.back(times, some)
        values += back.real @ means.real - back.imag @ means.imag
        report(some.stop)
    return values.reshape(-1, rings, sections), passed


def _along(p: ComplexArray, grid: Grid, count: int) -> tuple[ComplexArray, ComplexArray]:
    """Means over rings and sections, and what leaves, for a band that enters as 1.

    Parameters
    ----------
    p : (frequencies,) complex array, D/a^2
    grid : (Fourier number, rings, sections)
    count : int
        Polynomials.

    Returns
    -------
    means : (frequencies, rings, sections) complex array, 1
    passed : (frequencies,) complex array, 1
    """
    fourier, rings, sections = grid
    exchange, hold, begin, over_rings = _radial(count, rings)
    matrix = exchange + p[:, None, None] * hold
    power = expm(-matrix * (fourier / sections))
    states = np.broadcast_to(begin[:, None], (p.size, count, 1)).astype(complex)
    while states.shape[2] <= sections:  # each turn twice as many sections are known
        states = np.concatenate([states, power @ states], axis=2)
        power = power @ power
    states = states[:, :, : sections + 1]
    # The mean of exp(-matrix s) over a section; the matrix is symmetric.
    spread = np.linalg.solve(matrix, np.broadcast_to(over_rings.T, (p.size, count, rings)))
    crossed = (states[:, :, :-1] - states[:, :, 1:]) * (sections / fourier)
    means: Any = np.swapaxes(spread, 1, 2) @ crossed
    passed: Any = states[:, :, -1] @ begin
    return means, passed


@lru_cache(maxsize=16)
def _radial(count: int, rings: int) -> tuple[FloatArray, ...]:
    """Symmetric matrices of b' = -(exchange + p hold) b, first vector, and means over rings."""
    nodes, weights = legendre.leggauss(count + 1)
    x, weights = (nodes + 1) / 2, weights / 2
    scale = np.sqrt(2 * np.arange(count) + 1)
    values = legendre.legvander(nodes, count - 1) * scale
    slopes = 2 * legendre.legvander(nodes, count - 1)[:, :-1] @ legendre.legder(np.diag(scale))
    root = np.linalg.cholesky((values.T * (weights * 2 * (1 - x))) @ values)
    inverse = np.linalg.inv(root)
    exchange = inverse @ ((slopes.T * (weights * 4 * x)) @ slopes) @ inverse.T
    edges = 2 * np.linspace(0.0, 1.0, rings + 1) ** 2 - 1
    higher = legendre.legvander(edges, count)
    integrals = np.empty((rings + 1, count))
    integrals[:, 0] = edges
    integrals[:, 1:] = (higher[:, 2:] - higher[:, :-2]) / (2 * np.arange(1, count) + 1)
    means = np.diff(integrals, axis=0) / np.diff(edges)[:, None] * scale
    return exchange, inverse @ inverse.T, root[0], means @ inverse.T
