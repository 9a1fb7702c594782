"""Transfer functions of straight tubes, tabulated over frequency and Fourier number.

The table is made by ``benchmarks/tube_spectrum_table.py``.

A straight tube's transfer function depends on two numbers: y = omega tau and the Fourier number X.
In time counted from the transit on the axis it is exp(-a(y, X) - i b(y, X)). With q = y / bend(X)
both a (1 + q^2)^(3/4) / q^2 and b (1 + q^2)^(1/4) / q go smoothly from what the variance and the
mean ask for (q << 1) to a layer about the axis (q >> 1), and are tabulated over asinh(q) / asinh(q
of ``highest``) and ln X, between which B-splines go.

The entries come from Galerkin's method in Legendre polynomials of (r/a)^2, one eigenvalue problem
for each w = y / X. Beyond w = 3e6 it takes too many terms; there the axis alone counts, where
diffusion and a parabolic delay make a harmonic oscillator (Mehler's kernel):

    T -> 4 X / (s sinh s) ,  s^2 = i y X , with a logarithm that is off by A(X) + B(X) / sqrt(w) .
"""

from functools import lru_cache
from importlib.resources import files
from math import comb

import numpy as np

from tailrace.quantities.arrays import FloatArray, Number

VERSION = 2
LEAST, MOST = 0.003, 100.0
"""Fourier numbers between which the table reaches."""


def bend(fourier: Number) -> FloatArray:
    """omega tau about which the transfer function changes its ways. As ``fourier``, 1."""
    return np.asarray(np.sqrt(24 * np.asarray(fourier)) + np.cbrt(fourier))


def highest(fourier: Number) -> FloatArray:
    """omega tau to which the table reaches; beyond, less than 1e-11 passes. As ``fourier``, 1."""
    return np.asarray(1400 / np.asarray(fourier) + 40 * np.sqrt(fourier))


@lru_cache(maxsize=2)
def table(degree: int = 3) -> FloatArray:
    """Coefficients for a and b of B-splines, from ``spectrum.npz``.

    (Fourier numbers + degree - 1, frequencies + degree - 1, 2) array; the degree is 3 or 5.
    """
    with files("tailrace.parts.tube").joinpath("spectrum.npz").open("rb") as stream:
        stored = np.load(stream)
        if int(stored["version"]) != VERSION:
            raise ValueError(f"expected a table of tubes of version {VERSION}; make it again")
        values = stored["values"]
    return np.stack(
        [
            splined(splined(values[..., k], degree, even=True).T, degree).T
            for k in range(values.shape[2])
        ],
        axis=-1,
    )


KNOTS = {3: (1 / 6, 4 / 6, 1 / 6), 5: (1 / 120, 26 / 120, 66 / 120, 26 / 120, 1 / 120)}
"""Uniform B-splines at the knots, by degree."""


def splined(rows: FloatArray, degree: int, even: bool = False) -> FloatArray:
    """Coefficients of the uniform B-spline through each row. (rows, points + degree - 1) array.

    The highest derivative does not jump at the knots next to the ends, or the row is even about
    its first point.
    """
    points, beyond = rows.shape[1], degree - 1
    system = np.zeros((points + beyond, points + beyond))
    inner = np.arange(points)
    for place, weight in enumerate(KNOTS[degree]):
        system[inner, inner + place] = weight
    jump = np.array([(-1) ** k * comb(degree + 1, k) for k in range(degree + 2)])
    for one in range(beyond // 2):
        if even:
            system[points + 2 * one, [one, beyond - one]] = 1.0, -1.0
        else:
            system[points + 2 * one, one : one + degree + 2] = jump
        last = points + beyond - one
        system[points + 2 * one + 1, last - degree - 2 : last] = jump
    ends = np.zeros((rows.shape[0], beyond))
    return np.asarray(np.linalg.solve(system, np.hstack([rows, ends]).T).T)
