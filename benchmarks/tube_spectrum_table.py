"""Write the table of transfer functions that ``tailrace.parts.tube.spectrum`` reads; a minute."""

from pathlib import Path

import numpy as np
from numpy.polynomial import legendre, polynomial
from scipy.interpolate import make_interp_spline

from tailrace.parts.tube import spectrum
from tailrace.parts.tube.spectrum import LEAST, MOST, bend, highest
from tailrace.quantities.arrays import ComplexArray, FloatArray

FREQUENCIES, FOURIERS = 240, 130
HIGHEST_RATE = 3e6
RATES = 1400
TERMS = ((0.0, 12), (10.0, 18), (100.0, 24), (1e3, 36), (1e4, 64), (1e5, 112))
"""Rates w from which on so many terms are taken: more would round off more than they mend."""
FITTED = 0.15
"""Below this q the eigenvalues' rounding shows over q^2: an even polynomial is taken."""


def tabulate() -> FloatArray:
    """Compute what ``spectrum.table`` goes through. (FOURIERS, FREQUENCIES, 2) array."""
    rates = 4 * np.sinh(np.linspace(0.0, np.arcsinh(HIGHEST_RATE / 4), RATES))
    limits = [*(low for low, _ in TERMS), np.inf]
    pieces = [
        _modes(rates[(rates >= low) & (rates < up)], terms)
        for (low, terms), up in zip(TERMS, limits[1:], strict=True)
    ]
    rows = []
    for fourier in np.geomspace(LEAST, MOST, FOURIERS):
        values = np.concatenate(
            [np.sum(share * np.exp(rate * fourier), 1) for rate, share in pieces]
        )
        known = np.abs(values) > 1e-14
        last = int(np.argmin(known)) if not known.all() else known.size
        rows.append(_row(fourier, rates[:last], values[:last]))
    return np.array(rows)


def _row(fourier: float, rates: FloatArray, values: ComplexArray) -> FloatArray:
    """Smooth forms of a and b of one Fourier number on the table's grid. (FREQUENCIES, 2) array."""
    logarithm = np.log(np.abs(values)) + 1j * np.unwrap(np.angle(values))
    reach = np.arcsinh(highest(fourier) / bend(fourier))
    q = np.sinh(np.linspace(0.0, 1.0, FREQUENCIES) * reach)
    at = q * bend(fourier) / fourier
    known = make_interp_spline(np.arcsinh(rates / 4), logarithm, k=7)
    # the two constants beyond what is known, from its end
    ends = rates[[-1 - rates.size // 12, -1]]
    off = known(np.arcsinh(ends / 4)) - _axis(ends, fourier)
    slope = (off[0] - off[1]) / np.subtract(*(1 / np.sqrt(ends)))
    beyond = _axis(np.maximum(at, ends[1]), fourier) + off[1]
    beyond += slope * (1 / np.sqrt(np.maximum(at, ends[1])) - 1 / np.sqrt(ends[1]))
    exact = np.where(at <= ends[1], known(np.arcsinh(np.minimum(at, ends[1]) / 4)), beyond)
    forms = np.full((FREQUENCIES, 2), np.nan)
    inside, low = q >= FITTED, q < FITTED
    forms[inside] = _forms(q[inside], exact[inside])
    near = np.linspace(FITTED, 4 * FITTED, 40)
    fit = polynomial.polyfit(
        near**2, _forms(near, known(np.arcsinh(near * bend(fourier) / fourier / 4))), 6
    )
    forms[low] = polynomial.polyval(q[low] ** 2, fit).T
    return forms


def _forms(q: FloatArray, logarithm: ComplexArray) -> FloatArray:
    square = 1 + q**2
    return np.stack([-logarithm.real * square**0.75 / q**2, -logarithm.imag * square**0.25 / q], 1)


def _axis(rates: FloatArray, fourier: float) -> ComplexArray:
    """Logarithm of 4 X / (s sinh s), its phase continuous."""
    s = np.sqrt(1j * rates) * fourier
    return np.asarray(np.log(8 * fourier / s) - s - np.log1p(-np.exp(-2 * s)))


def _modes(rates: FloatArray, terms: int) -> tuple[ComplexArray, ComplexArray]:
    """Rates along the tube and shares of the modes at each w. Two (rates, terms) arrays."""
    nodes, weights = legendre.leggauss(2 * terms + 2)
    x, weights = (nodes + 1) / 2, weights / 2
    scale = np.sqrt(2 * np.arange(terms) + 1)[:, None]
    value = legendre.legvander(nodes, terms - 1).T * scale
    slope = scale * np.array(
        [2 * legendre.legval(nodes, legendre.legder(one)) for one in np.eye(terms)]
    )
    root = np.linalg.cholesky((value * (weights * 2 * (1 - x))) @ value.T)
    inverse = np.linalg.inv(root)
    exchange = -inverse @ ((slope * (weights * 4 * x)) @ slope.T) @ inverse.T
    late = inverse @ inverse.T - np.eye(terms) / 2
    along, vectors = np.linalg.eig(exchange - 1j * rates[:, None, None] * late)
    right = np.broadcast_to(root[0][:, None], (rates.size, terms, 1)).astype(complex)
    return along, (root[0] @ vectors) * np.linalg.solve(vectors, right)[..., 0]


if __name__ == "__main__":
    path = Path(spectrum.__file__).with_name("spectrum.npz")
    np.savez_compressed(path, version=spectrum.VERSION, values=tabulate())
    print(f"{path.name}: {path.stat().st_size} bytes")
