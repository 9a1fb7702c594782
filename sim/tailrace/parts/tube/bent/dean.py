"""Dean's equations of the fully developed flow in a loosely bent tube, solved by Galerkin's method.

With r over the radius a of the bore, theta from the outward direction of the bend, the axial
velocity w over its mean U, and the secondary flow u = curl(psi) over w0^2 a^2/(nu R), w0 = 2 U,

    4 De^2 u . grad w = G + lap w ,                                w = 0 at the wall,
    bilap psi = 4 De^2 u . grad(lap psi) - (1/16) d(w^2)/dy ,      psi = psi_r = 0 at the wall,
    De = (a w0/nu) sqrt(a/R) = Re sqrt(a/R) , Re = 2 a U/nu ,  u_r = psi_theta/r , u_theta = -psi_r.

For De -> 0 this is w = 2 (1 - r^2) and psi = f(r) sin(theta), f = r (1 - r^2)^2 (4 - r^2)/1152
(W. R. Dean, Phil. Mag. 4 (1927) 208 and 5 (1928) 673). The mean of w is one at every De, so w0 is
the velocity on the axis of the straight tube with the same flow; G/8 is the friction over that of
the straight tube.

w is a sum of cos(m theta), psi one of sin(m theta), with (1 - r^2) and (1 - r^2)^2 times r^m and
Jacobi polynomials of 2 r^2 - 1 along the radius: every term obeys the conditions at the wall and is
smooth on the axis. Newton's method, starting from a neighbouring Dean number.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.polynomial import chebyshev, legendre
from scipy.special import eval_jacobi

from tailrace.errors import AccuracyError
from tailrace.quantities.arrays import FloatArray

MOST_ITERATIONS = 20
SETTLED = 1e-10
"""Largest change of a coefficient, over the largest coefficient, that ends the iteration."""


@dataclass(frozen=True)
class Terms:
    """The terms of one of the two sums: harmonic m and degree k of each.

    ``exponent`` is that of (1 - r^2): 1 for the axial flow, 2 for the stream function.
    """

    pairs: tuple[tuple[int, int], ...]
    exponent: int

    def radial(self, r: FloatArray, derivative: int = 0) -> FloatArray:
        """Radial factor of each term, or a derivative of it. (terms, len(r)) array."""
        highest = max(m + 2 * k for m, k in self.pairs) + 2 * self.exponent
        nodes = chebyshev.chebpts1(highest + 1)
        values = np.array([self._factor(m, k, nodes) for m, k in self.pairs])
        if derivative == 0:
            return np.array([self._factor(m, k, r) for m, k in self.pairs])
        series = chebyshev.chebfit(nodes, values.T, highest)
        return np.asarray(chebyshev.chebval(r, chebyshev.chebder(series, derivative)), float)

    def _factor(self, m: int, k: int, r: FloatArray) -> FloatArray:
        size = np.sqrt(2.0 * (2 * k + 2 * self.exponent + m + 1))
        jacobi = eval_jacobi(k, 2 * self.exponent, m, 2 * r * r - 1)
        return np.asarray(size * (1 - r * r) ** self.exponent * r**m * jacobi)

    def harmonics(self, coefficients: FloatArray, r: FloatArray, derivative: int = 0) -> FloatArray:
        """Radial factor of each harmonic of a sum of the terms. (harmonics, len(r)) array."""
        out = np.zeros((max(m for m, _ in self.pairs) + 1, len(r)))
        for (m, _), c, row in zip(
            self.pairs, coefficients, self.radial(r, derivative), strict=True
        ):
            out[m] += c * row
        return out


@lru_cache(maxsize=8)
def terms(order: int, exponent: int) -> Terms:
    """Terms with m + 2 k up to ``order``; from m = 0 for the axial flow, m = 1 for the other."""
    first = 0 if exponent == 1 else 1
    pairs = [(m, k) for m in range(first, order + 1) for k in range((order - m) // 2 + 1)]
    return Terms(tuple(pairs), exponent)


@dataclass(frozen=True)
class _Section:
    """The terms and their derivatives at the points of a quadrature over half the section."""

    weights: FloatArray
    w: FloatArray
    w_r: FloatArray
    w_t: FloatArray
    s_r: FloatArray
    s_t: FloatArray
    s_y: FloatArray
    s_lap: FloatArray


@lru_cache(maxsize=2)
def _section(order: int) -> _Section:
    nodes, weights = legendre.leggauss(order + 6)
    r = np.sqrt((nodes + 1) / 2)
    angles = (np.arange(2 * order) + 0.5) * np.pi / (2 * order)
    area = np.repeat(weights / 2, angles.size) / angles.size

    def spread(sums: Terms, radial: FloatArray, wave: FloatArray) -> FloatArray:
        along = wave[[m for m, _ in sums.pairs]]
        return (radial[:, :, None] * along[:, None, :]).reshape(len(radial), -1)

    m = np.arange(order + 1.0)[:, None]
    cos, sin = np.cos(m * angles), np.sin(m * angles)
    axial, stream = terms(order, 1), terms(order, 2)
    w, w_r = axial.radial(r), axial.radial(r, 1)
    s, s_r, s_rr = stream.radial(r), stream.radial(r, 1), stream.radial(r, 2)
    of = np.array([m for m, _ in stream.pairs])[:, None]
    s_t = spread(stream, s / r, m * cos)
    s_slope = spread(stream, s_r, sin)
    sine, cosine = np.tile(np.sin(angles), r.size), np.tile(np.cos(angles), r.size)
    return _Section(
        weights=area,
        w=spread(axial, w, cos),
        w_r=spread(axial, w_r, cos),
        w_t=spread(axial, w / r, -m * sin),
        s_r=s_slope,
        s_t=s_t,
        s_y=sine * s_slope + cosine * s_t,
        s_lap=spread(stream, s_rr + s_r / r - (of / r) ** 2 * s, sin),
    )


def solve(
    dean: float, order: int, start: tuple[FloatArray, FloatArray] | None = None
) -> tuple[FloatArray, FloatArray, float]:
    """Solve Dean's equations.

    Raises AccuracyError if Newton's method does not settle.

    Returns
    -------
    axial, stream : coefficients of the terms
    friction : pressure gradient over that of the straight tube
    """
    at = _section(order)
    axial, stream = start or (np.zeros(len(at.w)), np.zeros(len(at.s_r)))
    gradient, strength = 8.0, 4 * dean**2
    stiff = (at.w_r * at.weights) @ at.w_r.T + (at.w_t * at.weights) @ at.w_t.T
    biharmonic = (at.s_lap * at.weights) @ at.s_lap.T
    mean = at.w @ at.weights
    n, total = len(axial), len(axial) + len(stream) + 1
    for _ in range(MOST_ITERATIONS):
        w, w_r, w_t = axial @ at.w, axial @ at.w_r, axial @ at.w_t
        p_r, p_t, vortex = stream @ at.s_r, stream @ at.s_t, stream @ at.s_lap
        matrix, right = np.zeros((total, total)), np.zeros(total)
        tested = at.w * at.weights * strength
        matrix[:n, :n] = stiff + tested @ (p_t * at.w_r - p_r * at.w_t).T
        matrix[:n, n:-1] = tested @ (w_r * at.s_t - w_t * at.s_r).T
        matrix[:n, -1], matrix[-1, :n] = -mean, mean
        swirl = (p_t * at.s_r - p_r * at.s_t) * at.weights * strength
        matrix[n:-1, :n] = -(at.s_y * at.weights * w / 8) @ at.w.T
        matrix[n:-1, n:-1] = biharmonic + swirl @ at.s_lap.T
        turned = at.weights * strength * vortex
        matrix[n:-1, n:-1] += (at.s_r * turned) @ at.s_t.T - (at.s_t * turned) @ at.s_r.T
        right[:n] = gradient * mean - stiff @ axial - tested @ (p_t * w_r - p_r * w_t)
        right[n:-1] = -(biharmonic @ stream + swirl @ vortex - at.s_y @ (at.weights * w**2) / 16)
        right[-1] = 1.0 - mean @ axial
        change: FloatArray = np.linalg.solve(matrix, right).astype(float)
        axial, stream = axial + change[:n], stream + change[n:-1]
        gradient += change[-1]
        if _small(change[:n], axial) and _small(change[n:-1], stream):
            return axial, stream, float(gradient / 8)
    raise AccuracyError(f"the flow in a bent tube did not settle at a Dean number of {dean:.3g}")


def _small(change: FloatArray, of: FloatArray) -> bool:
    return bool(np.max(np.abs(change)) <= SETTLED * np.max(np.abs(of)))
