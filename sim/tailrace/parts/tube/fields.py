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

Back to time the transform is summed on a line right of the imaginary axis (Dubner and Abate,
J. ACM 15 (1968) 115; from memory). What has not happened yet does not matter then, and the period
need only span the moments that are asked for, not the tube's long tail. An edge in the band that
enters is blurred over about two of the band's steps, so that it does not ring.
Molecular diffusion along the tube is left out: see ``Tube.peclet_number``.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeAlias

import numpy as np
from numpy.polynomial import legendre
from scipy.linalg import expm
from threadpoolctl import threadpool_limits

from tailrace.eluent.stream import Stream
from tailrace.errors import AccuracyError, BudgetError
from tailrace.parts.tube.part import Tube
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.band import Band

Progress: TypeAlias = Callable[[int, int], object]
Grid: TypeAlias = tuple[float, int, int]
"""Fourier number, rings, sections."""

POLYNOMIALS = (16, 24, 32, 48, 64, 96, 128)
TOLERANCE = 1e-3
"""What more polynomials may change, over the highest value that enters."""
DAMPING = np.log(1e6)
"""What the signal is damped by over one period; the next period shows through by its inverse."""
SPARE = 1.25
"""Period over the time that is asked for. Only so much of the damping need be undone: rounding
errors grow ten-thousandfold, not a millionfold."""
LEAK = np.log(1e10)
"""What the highest frequency is damped by. It would be seen before the band has come, and there, at
the end of the period before, the damping is undone."""
EDGED = 0.01
"""Highest frequency times its component, over the highest value: above it the band has edges."""
MOST_FREQUENCIES = 20_000
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
    """

    times: FloatArray
    values: FloatArray
    entered: FloatArray
    left: FloatArray
    outlet: Band


@dataclass(frozen=True)
class _Waves:
    """The band's transform: from ``start`` (s), in steps of ``step`` (s), damped by ``damp`` (1/s).

    ``weights`` (frequencies,) with exp(rates t) sum up, by their real parts, to the band at t after
    the start; of ``full`` frequencies those are left out that hold nothing. ``height`` is the
    band's largest value.
    """

    start: float
    step: float
    damp: float
    full: int
    rates: ComplexArray
    weights: ComplexArray
    height: float

    def back(self, times: FloatArray, some: slice = slice(None)) -> ComplexArray:
        """What takes some of the frequencies back to moments: (times, frequencies) array."""
        since = np.maximum(times - self.start, 0.0)
        return np.asarray(np.exp(np.outer(since, self.rates[some])) * self.weights[some])

    def signal(self, passed: ComplexArray, late: float) -> Band:
        """The band times a factor at each frequency, on the band's own grid up to ``late`` (s)."""
        count = 2 * (self.full - 1)
        halves = np.zeros(self.full, complex)
        halves[: passed.size] = self.weights * passed * (count / 2)
        halves[0] *= 2
        length = max(1, min(count, int(np.ceil((late - self.start) / self.step)) + 1))
        damped = np.fft.irfft(halves, count)[:length]
        values = damped * np.exp(self.damp * self.step * np.arange(length))
        return Band(values[None], np.array([self.start]), np.array([self.step]))


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
    fourier = float(np.ravel(tube.fourier_number(stream))[0])
    radial_time = float(np.ravel(tube.residence(stream))[0]) / fourier
    late = times.max() if until is None else max(times.max(), until)
    waves = _transformed(band, late, tube.name)
    values, passed = _settled(waves, times, radial_time, (fourier, rings, sections), progress)
    # Of what goes in or out during the next periods, all shows through by the damping.
    beyond = band.area[0] / np.expm1(DAMPING)
    come = times > waves.start
    back = waves.back(times)
    return TubeField(
        times=times,
        values=np.where(come[:, None, None], values, 0.0),
        entered=np.where(come, (back @ (1 / waves.rates)).real - beyond, 0.0),
        left=np.where(come, (back @ (passed / waves.rates)).real - beyond, 0.0),
        outlet=waves.signal(passed, late),
    )


def _settled(
    waves: _Waves, times: FloatArray, radial_time: float, grid: Grid, progress: Progress | None
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
        with threadpool_limits(1, "blas"):
            values, passed = _summed(waves, times, radial_time, grid, count, report)
        if before is not None and np.max(np.abs(values - before)) < TOLERANCE * waves.height:
            return values, passed
        before = values
    raise AccuracyError(
        f"{POLYNOMIALS[-1]} polynomials over the radius do not resolve a tube of Fourier number "
        f"{grid[0]:.2g} at this sharp inlet; inject more, or choose a longer tube"
    )


def _summed(
    waves: _Waves,
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


def _transformed(band: Band, late: float, name: str) -> _Waves:
    """Take the transform of a band, over a period that holds it whole and lasts until ``late``."""
    step, values = float(band.step[0]), band.values[0]
    lead = 16  # steps that a blurred edge may reach back
    start = float(band.start[0]) - lead * step
    span = max(late - start, (values.size + 2 * lead) * step) / step
    full = int(np.ceil(max(SPARE * span, span + 8 * lead) / 2)) + 1
    if full > MOST_FREQUENCIES:
        raise BudgetError(
            f"{name}: {full} frequencies would be needed, more than {MOST_FREQUENCIES}: the band "
            "that enters is too brief against the times asked for; ask for earlier ones"
        )
    count = 2 * (full - 1)
    damp = DAMPING / (count * step)
    padded = np.zeros(count)
    padded[lead : lead + values.size] = values
    padded *= np.exp(-damp * step * np.arange(count))
    transform = np.fft.rfft(padded) * step
    omega = 2 * np.pi * np.fft.rfftfreq(count, step)
    rates = damp + 1j * omega
    upper = slice(full // 2, None)
    edged = np.max(np.abs(transform[upper]) * omega[upper]) > EDGED * values.max()
    # Second order is a Gaussian and makes no waves of its own; eighth leaves smooth bands alone.
    order = 2 if edged else 8
    transform *= np.exp(-LEAK * (rates / (1j * omega[-1])) ** order)
    size = np.abs(transform)
    needed = np.flatnonzero(size > 1e-13 * size.max())[-1] + 1
    weights = transform[:needed] * 2 / (count * step)
    weights[0] /= 2
    return _Waves(start, step, damp, full, rates[:needed], weights, float(values.max()))


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
