"""Radial modes of a tube by Galerkin's method in Legendre polynomials of x = (r/a)^2."""

from functools import lru_cache

import numpy as np
from numpy.polynomial import legendre
from scipy.linalg import eigh

from tailrace.quantities.arrays import FloatArray


@lru_cache(maxsize=16)
def radial_modes(count: int) -> tuple[FloatArray, FloatArray]:
    """Decay rates and coupling of the radial modes of a band in Poiseuille flow.

    Along the tube the modes' amplitudes obey a' = -(diag(rates) + p (I + coupling)) a, with p the
    Laplace variable of time in units of D/a^2 and length in units of a^2 U/D; a band that enters
    uniformly is the first mode, and the flux average at the outlet is its amplitude. The rates are
    those of Graetz's problem with an insulated wall (Siegel, Sparrow and Hallman, Appl. Sci. Res.
    A 7 (1958) 386).

    Parameters
    ----------
    count : int
        Modes; the lower half of them is accurate to many digits.

    Returns
    -------
    rates : (count,) array, 1
        The first is 0.
    coupling : (count, count) array, 1
        Residence per unit length between modes, less its mean.
    """
    nodes, weights = legendre.leggauss(2 * count)
    x, weights = (nodes + 1) / 2, weights / 2
    scale = np.sqrt(2 * np.arange(count) + 1)
    values = scale[:, None] * legendre.legvander(nodes, count - 1).T
    # P'_(n+1) = P'_(n-1) + (2n + 1) P_n, and x runs half as fast as the nodes
    slopes = np.zeros_like(values)
    for n in range(1, count):
        below = slopes[n - 2] / scale[n - 2] if n > 1 else 0.0
        slopes[n] = scale[n] * (below + 2 * scale[n - 1] * values[n - 1])
    flow = (values * (weights * 2 * (1 - x))) @ values.T
    exchange = (slopes * (weights * 4 * x)) @ slopes.T
    # by 1 / (1 + rate): of the rates themselves, up to 1e10, the least would keep seven digits
    shares, vectors = (each[..., ::-1] for each in eigh(flow, flow + exchange))
    rates, vectors = 1 / shares - 1, vectors / np.sqrt(shares)
    rates[0] = 0.0
    vectors[:, 0] *= np.sign(vectors[0, 0])
    return rates, vectors.T @ vectors - np.eye(count)
