"""Closed form of a tube: Taylor and Aris for a long one, the exact cumulants for any length.

Exact: with the velocity profile's eigenfunctions (Graetz's problem with an insulated wall; Siegel,
Sparrow and Hallman, Appl. Sci. Res. A 7 (1958) 386) the radial modes of a band that entered
uniformly obey a' = -(L + p W) a along the tube, p the Laplace variable of time. Expanding the
flux-averaged outlet in p gives, with w the first column of W without its mean and X the fourier
number in units of residence over a^2/D,

    variance = 2 sum_n w_n^2 F(l_n) ,   third = 6 sum_nm w_n W_nm w_m G(l_n, l_m) ,
    F(l) = X/l - (1 - exp(-l X))/l^2 ,  G(l, m) = (F(l) - F(m)) / (m - l) .

For long tubes variance -> X/24 - 1/384 and third -> X/320 - 19/71680, times (a^2/D)^2 and ^3.
"""

from functools import lru_cache
from typing import Protocol

import numpy as np
from scipy.linalg import expm

from tailrace.eluent.stream import Stream
from tailrace.parts.tube.galerkin import radial_modes
from tailrace.parts.tube.spectrum import splined
from tailrace.quantities.arrays import FloatArray, Number
from tailrace.signals.cumulants import Cumulants

MODES = 72
SHORTEST = 1e-3
"""Least Fourier number for which this many modes give six digits."""
FEWER_MODES, AROUND, INSIDE = 16, 16, 0.8
"""For the fourth cumulant: modes; points on a circle, and its radius in 1 / standard deviation."""
LONGEST, NODES, MANY = 1000.0, 400, 32
"""Of many lanes the sums over the modes are taken at NODES Fourier numbers up to LONGEST."""


class _Straight(Protocol):
    """What is asked of a tube, which itself asks for the cumulants of bends that stand on these."""

    def fourier_number(self, stream: Stream) -> FloatArray: ...
    def residence(self, stream: Stream) -> Number: ...
    def peclet_number(self, stream: Stream) -> FloatArray: ...


def theory(tube: _Straight, stream: Stream) -> Cumulants:
    """Cumulants that a tube adds to a band that enters uniform over the section.

    ``gaussian_variance`` after Taylor, Proc. R. Soc. A 219 (1953) 186, and Aris, ibid. 235 (1956)
    67. ``variance`` and ``third`` are exact without molecular diffusion along the tube (it adds the
    fraction 192/Pe^2), NaN for Fourier numbers below SHORTEST.
    """
    lanes = (stream.lanes,)
    fourier = np.broadcast_to(tube.fourier_number(stream), lanes)
    residence = np.broadcast_to(tube.residence(stream), lanes)
    along = 1 + 192 / np.square(tube.peclet_number(stream))
    variance, third = reduced_cumulants(fourier)
    radial_time = residence / fourier
    return Cumulants(
        mean=residence,
        gaussian_variance=residence * radial_time / 24 * along,
        variance=variance * radial_time**2,
        third=third * radial_time**3,
    )


def reduced_cumulants(fourier: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Exact variance and third cumulant in units of (a^2/D)^2 and (a^2/D)^3.

    Parameters
    ----------
    fourier : (lanes,) array, 1

    Returns
    -------
    variance, third : (lanes,) array, 1
        NaN below SHORTEST. Of more than MANY lanes by a spline through NODES exact ones, good to
        1e-8.
    """
    fourier = np.asarray(fourier, dtype=float)
    known = fourier >= SHORTEST
    if fourier.size <= MANY or not known.all() or np.max(fourier) > LONGEST:
        variance, third = _exact(fourier)
        return np.where(known, variance, np.nan), np.where(known, third, np.nan)
    # both grow as X^2 and X^3 of short tubes and as X of long ones
    growth = np.exp(_tabulated(np.log(fourier)))
    return fourier**2 * growth[0] / (1 + fourier), fourier**3 * growth[1] / (1 + fourier**2)


def _tabulated(at: FloatArray) -> FloatArray:
    first, step, coefficients = _coefficients()
    place = (at - first) / step
    whole = np.minimum(place.astype(int), NODES - 2)
    u = place - whole
    weights = (1 - u) ** 3, 4 - 3 * u**2 * (2 - u), 1 + 3 * u * (1 + u * (1 - u)), u**3
    return np.asarray(sum(one * coefficients[:, whole + k] for k, one in enumerate(weights)) / 6)


@lru_cache(maxsize=1)
def _coefficients() -> tuple[float, float, FloatArray]:
    """Of cubic B-splines, with the first node and the step between nodes."""
    nodes, growth = tabulated_growth()
    return float(nodes[0]), float(nodes[1] - nodes[0]), splined(growth.T, degree=3)


def tabulated_growth() -> tuple[FloatArray, FloatArray]:
    """Logarithms of variance and third cumulant over their growth, by that of the Fourier number.

    (NODES,) array at even steps, and (NODES, 2) array; growth: X^2 / (1 + X) and X^3 / (1 + X^2).
    """
    fourier = np.geomspace(SHORTEST, LONGEST, NODES)
    variance, third = _exact(fourier)
    growth = np.stack(
        [variance * (1 + fourier) / fourier**2, third * (1 + fourier**2) / fourier**3], axis=1
    )
    return np.log(fourier), np.log(growth)


def reduced_fourth(fourier: FloatArray) -> FloatArray:
    """Exact fourth cumulant in units of (a^2/D)^4, as ``reduced_cumulants``; (lanes,) arrays."""
    return np.array([_fourth(float(one)) for one in fourier])


@lru_cache(maxsize=4096)
def _fourth(fourier: float) -> float:
    """The coefficient of p^4 of the logarithm of the modes' outlet, from a circle about p = 0."""
    variance = float(reduced_cumulants(np.array([fourier]))[0][0])
    if np.isnan(variance):
        return variance
    rates, coupling = radial_modes(FEWER_MODES)
    circle = INSIDE / np.sqrt(variance) * np.exp(2j * np.pi * np.arange(AROUND) / AROUND)
    system = np.diag(rates) + circle[:, None, None] * coupling
    outlet = np.log(expm(-fourier * system)[:, 0, 0])
    return float(24 * np.mean(outlet / circle**4).real)


def _exact(fourier: FloatArray) -> tuple[FloatArray, FloatArray]:
    rates, coupling = radial_modes(MODES)
    variance, third = np.empty(len(fourier)), np.empty(len(fourier))
    first = coupling[0, 1:]
    inner = coupling[1:, 1:]
    decay = rates[1:]
    for lane, length in enumerate(fourier):
        reach = np.exp(-decay * length)
        single = length / decay + np.expm1(-decay * length) / decay**2
        gap = decay[None, :] - decay[:, None]
        np.fill_diagonal(gap, 1.0)
        double = (single[:, None] - single[None, :]) / gap
        same = length * (1 + reach) / decay**2 - 2 * (1 - reach) / decay**3
        np.fill_diagonal(double, same)
        variance[lane] = 2 * first**2 @ single
        third[lane] = 6 * first @ (inner * double) @ first
    return variance, third
