"""Exact answers of whole chains, from the independent transfer functions under ``tests``.

The tube's transfer function takes one eigenvalue problem a frequency. In units of the radial
diffusion time that problem does not know the tube's length, so it is solved once on a grid of
frequencies for all tubes, and the logarithm of the result is interpolated. ``TubeTable`` checks
itself against the tests' own function when it is made.
"""

import sys
from functools import partial
from pathlib import Path

import numpy as np
from numpy.polynomial import legendre
from scipy.interpolate import CubicSpline

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from reference import transfer

from tailrace.measures import measure
from tailrace.signals.band import Band

NEGLIGIBLE = 1e-10
"""Of a transfer function, against its value 1 at frequency zero."""
FEW_MODES, MANY_MODES, FEW_UP_TO = 28, 64, 1000.0
"""Fewer modes lose fewer digits (1e-10 against 1e-8) and suffice up to this reduced frequency."""
CUMULANT_MODES = 20
SPAN = 48.0
"""Standard deviations that the exact curve is written over; 10 of them before the mean."""
MOST_FREQUENCIES = 1 << 16


class TubeTable:
    """Transfer function of tubes of any Fourier number up to a highest reduced frequency.

    Parameters
    ----------
    highest : float, 1
        Angular frequency times a^2/D.
    points : int

    Raises
    ------
    RuntimeError
        If it does not agree with ``tests/reference/transfer.py``.
    """

    def __init__(self, highest=3e5, points=1000):
        self.reduced = 4 * np.sinh(np.linspace(0.0, np.arcsinh(highest / 4), points))
        low = self.reduced < FEW_UP_TO
        self.pieces = [
            _rates_and_shares(self.reduced[low], FEW_MODES),
            _rates_and_shares(self.reduced[~low], MANY_MODES),
        ]
        reduced = np.array([0.7, 13.3, 203.0, 917.0])
        for fourier in (0.02, 0.5, 5.0):
            tests = transfer.tube(reduced, fourier, fourier, FEW_MODES)
            if np.abs(self(reduced, fourier, fourier) - tests).max() > 5e-9:
                raise RuntimeError(f"the table of tubes is wrong at Fourier number {fourier}")

    def __call__(self, omega, fourier, residence):
        """Transfer function of one tube.

        Parameters
        ----------
        omega : (frequencies,) array, rad/s
            From zero upwards.
        fourier : float, 1
        residence : float, s

        Returns
        -------
        (frequencies,) array, 1
        """
        known = np.concatenate(
            [np.sum(shares * np.exp(rates * fourier), axis=1) for rates, shares in self.pieces]
        )
        silent = np.flatnonzero(np.abs(known) < NEGLIGIBLE)
        count = silent[0] if silent.size else known.size
        # what is left after the transit on the axis turns slowly enough to be unwound
        turned = known[:count] * np.exp(0.5j * self.reduced[:count] * fourier)
        spread = np.arcsinh(self.reduced[:count] / 4)
        logarithm = CubicSpline(spread, np.log(np.abs(turned)) + 1j * np.unwrap(np.angle(turned)))
        reduced = np.asarray(omega) * residence / fourier
        inside = reduced <= self.reduced[count - 1]
        if not silent.size and not inside.all():
            raise RuntimeError("the table of tubes ends below the frequencies that are needed")
        out = np.zeros(reduced.shape, complex)
        at = reduced[inside]
        out[inside] = np.exp(logarithm(np.arcsinh(at / 4)) - 0.5j * at * fourier)
        return out


def galerkin(modes):
    """Matrices of the insulated tube in Legendre polynomials of (r/a)^2, flow as unit matrix."""
    nodes, weights = legendre.leggauss(2 * modes + 2)
    x, weights = (nodes + 1) / 2, weights / 2
    scale = np.sqrt(2 * np.arange(modes) + 1)[:, None]
    value = legendre.legvander(nodes, modes - 1).T * scale
    slope = np.array([2 * legendre.legval(nodes, legendre.legder(row)) for row in np.eye(modes)])
    slope = slope * scale
    root = np.linalg.cholesky((value * (weights * 2 * (1 - x))) @ value.T)
    inverse = np.linalg.inv(root)
    exchange = -inverse @ ((slope * (weights * 4 * x)) @ slope.T) @ inverse.T
    return exchange, inverse @ inverse.T, root[0]


def _rates_and_shares(reduced, modes):
    """Rates along the tube of every mode, and its share in what enters and leaves."""
    exchange, held, start = galerkin(modes)
    rates, vectors = np.linalg.eig(exchange - 1j * reduced[:, None, None] * held)
    right = np.broadcast_to(start[:, None], (reduced.size, modes, 1)).astype(complex)
    return rates, (start @ vectors) * np.linalg.solve(vectors, right)[..., 0]


class Chain:
    """Linear parts one after the other, known by their transfer functions.

    Parameters
    ----------
    table : TubeTable
    tubes : list of (Fourier number, residence in s)
    others : list of callable
        Transfer functions of angular frequency in rad/s; must take complex frequencies.
    """

    def __init__(self, table, tubes, others):
        self.table, self.tubes, self.others = table, tubes, others

    def _product(self, omega, tube):
        out = np.ones(len(omega), complex)
        for part in self.others:
            out = out * part(omega)
        for fourier, residence in self.tubes:
            out = out * tube(omega, fourier, residence)
        return out

    def mean_and_variance(self, delay, deviation):
        """First two cumulants by Cauchy's integral about frequency zero. floats, s and s^2.

        Parameters
        ----------
        delay, deviation : float, s
            Rough mean and standard deviation, to centre and to scale the circle.
        """
        radius = 0.25 / deviation
        circle = np.exp(2j * np.pi * np.arange(16) / 16)
        values = self._product(radius * circle, partial(transfer.tube, modes=CUMULANT_MODES))
        logarithm = np.log(values * np.exp(1j * radius * circle * delay))
        logarithm = logarithm.real + 1j * np.unwrap(logarithm.imag)
        first = np.mean(logarithm / circle) / radius
        second = np.mean(logarithm / circle**2) / radius**2
        return delay + (1j * first).real, (-2 * second).real

    def curve(self, mean, deviation, step):
        """The curve that leaves the chain, as a Band of one lane.

        Parameters
        ----------
        mean, deviation : float, s
        step : float, s
            The curve's own is at most this.
        """
        period = SPAN * deviation
        count = 2048
        while True:
            omega = 2 * np.pi / period * np.arange(count + 1)
            spectrum = self._product(omega, self.table)
            if np.abs(spectrum[-count // 8 :]).max() < NEGLIGIBLE or count >= MOST_FREQUENCIES:
                break
            count *= 2
        begin = mean - 10 * deviation
        samples = max(2 * count, 1 << int(np.ceil(np.log2(period / step))))
        full = np.zeros(samples // 2 + 1, complex)
        full[: count + 1] = spectrum * np.exp(1j * omega * begin)
        values = np.fft.irfft(full, samples) * samples / period
        return Band(values[None], np.array([begin]), np.array([period / samples]))


def figures(curve):
    """The figures of an exact curve, read where it stands above 0.01 % of its height.

    Parameters
    ----------
    curve : Band

    Returns
    -------
    dict of str to float
    """
    high = np.flatnonzero(curve.values[0] > 1e-4 * curve.values[0].max())
    part = slice(max(high[0] - 4, 0), high[-1] + 5)
    start = curve.start + curve.step * part.start
    read = measure(Band(curve.values[:, part], start, curve.step))
    return {name: float(value[0]) for name, value in read.items()}
