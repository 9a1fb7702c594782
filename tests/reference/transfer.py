"""Transfer functions in the frequency domain, and their way back to time.

Conventions: H(w) = integral of the unit response h(t) exp(-i w t) dt.
"""

import numpy as np
from numpy.polynomial import legendre


def tube(omega, fourier, residence, modes=64):
    """Laminar tube, uniform entry, flux-averaged outlet, no diffusion along the axis.

    Galerkin's method in Legendre polynomials of x = (r/a)^2, then the exact exponential along the
    length. Differs from the product in every discretisation: no rings, no stations, no instants.
    """
    nodes, weights = legendre.leggauss(2 * modes + 2)
    x, weights = (nodes + 1) / 2, weights / 2
    scale = np.sqrt(2 * np.arange(modes) + 1)
    value = legendre.legvander(nodes, modes - 1).T * scale[:, None]
    slope = np.array(
        [
            2 * s * legendre.legval(nodes, legendre.legder(row))
            for s, row in zip(scale, np.eye(modes), strict=True)
        ]
    )
    root = np.linalg.cholesky((value * (weights * 2 * (1 - x))) @ value.T)
    inverse = np.linalg.inv(root)
    exchange = -inverse @ ((slope * (weights * 4 * x)) @ slope.T) @ inverse.T
    held = inverse @ inverse.T
    start = root[0]
    out = np.empty(len(omega), complex)
    for k, w in enumerate(np.asarray(omega) * residence / fourier):
        rates, vectors = np.linalg.eig((exchange - 1j * w * held) * fourier)
        out[k] = (start @ vectors) @ (np.exp(rates) * np.linalg.solve(vectors, start))
    return out


def plug(omega, duration):
    return np.sinc(omega * duration / (2 * np.pi)) * np.exp(-0.5j * omega * duration)


def gaussian(omega, sigma):
    return np.exp(-0.5 * (omega * sigma) ** 2)


def tanks(omega, residence, number):
    return (1 + 1j * omega * residence / number) ** -number


def tanks_mean(omega, residence, number):
    return np.mean(
        [(1 + 1j * omega * residence / number) ** -i for i in range(1, number + 1)], axis=0
    )


def column(omega, retention, plates):
    """Lapidus and Amundson, J. Phys. Chem. 56 (1952) 984: half-infinite, Peclet number 2 N."""
    return np.exp(plates * (1 - np.sqrt(1 + 2j * omega * retention / plates)))


def back_to_time(transfer, times, highest, count):
    """Real signal at times from the transfer function on ``count`` frequencies up to ``highest``.

    ``transfer`` is a function of omega. Trapezoidal sum: the signal repeats after
    2 pi count / highest, which must hold it whole.
    """
    omega = np.linspace(0.0, highest, count + 1)
    spectrum = transfer(omega)
    step = omega[1]
    weights = np.full(omega.size, step / np.pi)
    weights[0] /= 2
    weights[-1] /= 2
    signal = np.empty(len(times))
    for first in range(0, len(times), 512):
        some = np.asarray(times)[first : first + 512]
        signal[first : first + 512] = (
            np.exp(1j * np.outer(some, omega)) @ (weights * spectrum)
        ).real
    return signal


def joint(omega, core, pocket, filling):
    """Stirred core that exchanges with a still slab by diffusion: the balance of each, solved.

    Core: A (iw c) = c_in - c - B (iw) mean of the slab; slab: c cosh(q y)/cosh(q), q^2 = i w c.
    """
    root = np.sqrt(1j * np.asarray(omega) * filling + 1e-300)
    mean = np.where(np.abs(root) > 1e-6, np.tanh(root) / np.where(root == 0, 1, root), 1.0)
    return 1 / (1 + 1j * omega * (core + pocket * mean))
