"""Transfer functions of straight tubes, tabulated over frequency and Fourier number.

The table is made by ``benchmarks/tube_spectrum_table.py``.

A straight tube's transfer function depends on two numbers: y = omega tau and the Fourier number X.
In time counted from the transit on the axis it is exp(-a(y, X) - i b(y, X)). With q = y / bend(X)
both a (1 + q^2)^(3/4) / q^2 and b (1 + q^2)^(1/4) / q go smoothly from what the variance and the
mean ask for (q << 1) to a layer about the axis (q >> 1), and are tabulated as cubic B-splines over
asinh(q) / asinh(q of ``highest``) and ln X.

The entries come from Galerkin's method in Legendre polynomials of (r/a)^2, one eigenvalue problem
for each w = y / X. Beyond w = 3e6 it takes too many terms; there the axis alone counts, where
diffusion and a parabolic delay make a harmonic oscillator (Mehler's kernel):

    T -> 4 X / (s sinh s) ,  s^2 = i y X , with a logarithm that is off by A(X) + B(X) / sqrt(w) .
"""

from functools import lru_cache
from importlib.resources import files

import numpy as np

from tailrace.quantities.arrays import FloatArray, Number

VERSION = 1
LEAST, MOST = 0.003, 100.0
"""Fourier numbers between which the table reaches."""


def bend(fourier: Number) -> FloatArray:
    """omega tau about which the transfer function changes its ways. As ``fourier``, 1."""
    return np.asarray(np.sqrt(24 * np.asarray(fourier)) + np.cbrt(fourier))


def highest(fourier: Number) -> FloatArray:
    """omega tau to which the table reaches; beyond, less than 1e-11 passes. As ``fourier``, 1."""
    return np.asarray(1400 / np.asarray(fourier) + 40 * np.sqrt(fourier))


@lru_cache(maxsize=1)
def table() -> FloatArray:
    """Coefficients for a and b, (Fourier numbers, frequencies, 2) array; from ``spectrum.npz``."""
    with files("tailrace.parts.tube").joinpath("spectrum.npz").open("rb") as stream:
        stored = np.load(stream)
        if int(stored["version"]) != VERSION:
            raise ValueError(f"expected a table of tubes of version {VERSION}; make it again")
        return np.ascontiguousarray(stored["coefficients"], dtype=float)
