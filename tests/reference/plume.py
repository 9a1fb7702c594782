"""Concentration in a tube from finite volumes in the radius, one frequency at a time.

Shares nothing with the product's field: other basis, no damping, the inlet's transform in closed
form, other way back to time.
"""

import numpy as np
from scipy.linalg import expm
from threadpoolctl import threadpool_limits

from reference import transfer


def ring_means(sigma, fourier, place, moment, rings, window=12.0, highest=60.0):
    """Means over equal rings at one place, a share of the length, and one moment.

    Residence time 1; a Gaussian of width ``sigma`` about time zero enters uniform over the section.
    """
    radii = np.linspace(0.0, 1.0, rings + 1)
    area = np.diff(radii**2)
    flow = np.diff(2 * radii**2 - radii**4)  # of the whole; the mean velocity is 1
    # diffusion through the cylinder between two rings, per length, in units of pi D
    through = 2 * radii[1:-1] * rings
    exchange = np.zeros((rings, rings))
    for ring, rate in enumerate(through):
        exchange[ring, ring] -= rate
        exchange[ring + 1, ring + 1] -= rate
        exchange[ring, ring + 1] += rate
        exchange[ring + 1, ring] += rate
    count = int(np.ceil(highest * window / (2 * np.pi)))
    omega = np.linspace(0.0, highest, count + 1)
    weights = np.full(omega.size, omega[1] / np.pi)
    weights[[0, -1]] /= 2
    values = np.zeros(rings)
    with threadpool_limits(1, "blas"):  # the matrices are too small to share out
        for w, weight in zip(omega, weights, strict=True):
            along = (fourier * exchange - 1j * w * np.diag(area)) / flow[:, None]
            inside = expm(along * place) @ np.ones(rings)
            values += weight * (inside * transfer.gaussian(w, sigma) * np.exp(1j * w * moment)).real
    return values
