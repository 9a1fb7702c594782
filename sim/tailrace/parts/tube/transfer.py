"""The transfer function of a straight tube, read from the table of ``spectrum.py``."""

import numpy as np
from numba import njit

from tailrace.eluent.stream import Stream
from tailrace.parts.tube.part import Tube
from tailrace.parts.tube.spectrum import LEAST, MOST, bend, highest, table
from tailrace.quantities.arrays import ComplexArray, FloatArray

DEGREE, TERMS = 5, 6
"""Of the B-splines, and how many of them reach over an interval."""


def transfer(tube: Tube, stream: Stream, omega: FloatArray) -> ComplexArray:
    """Flux average behind the tube of a band that enters uniform over the section.

    Parameters
    ----------
    omega : (lanes, frequencies) array, rad/s
        From 0 upwards.

    Returns
    -------
    (lanes, frequencies) complex array, 1
        Good to 1e-7 (a test); 0 where less than 1e-11 passes. Without molecular
        diffusion along the tube.
    """
    lanes = omega.shape[0]
    fourier = np.broadcast_to(tube.fourier_number(stream), (lanes,))
    residence = np.broadcast_to(np.asarray(tube.residence(stream), dtype=float), (lanes,))
    return straight(fourier, residence, omega)


def straight(fourier: FloatArray, residence: FloatArray, omega: FloatArray) -> ComplexArray:
    """The same by Fourier numbers and residences, s; (lanes,) arrays."""
    found = np.empty(omega.shape, dtype=complex)
    coefficients = table(DEGREE)
    place = np.log(fourier / LEAST) / np.log(MOST / LEAST) * (coefficients.shape[0] - DEGREE)
    bends = bend(fourier)
    _read(coefficients, place, residence, bends, highest(fourier) / bends, omega, found)
    return found


@njit(cache=True, nogil=True, error_model="numpy")
def _read(
    coefficients: FloatArray,
    places: FloatArray,
    residence: FloatArray,
    bends: FloatArray,
    reach: FloatArray,
    omega: FloatArray,
    found: ComplexArray,
) -> None:
    rows, columns, _ = coefficients.shape
    row = np.empty((columns, 2))
    w = np.empty(TERMS)
    for lane in range(omega.shape[0]):
        at = min(max(int(places[lane]), 0), rows - TERMS)
        _weights(places[lane] - at, w)
        scale = (columns - DEGREE) / np.arcsinh(reach[lane])
        greatest = min(omega[lane].max() * residence[lane] / bends[lane], reach[lane])
        for k in range(min(int(np.arcsinh(greatest) * scale) + TERMS + 1, columns)):
            for part in range(2):
                total = 0.0
                for j in range(TERMS):
                    total += w[j] * coefficients[at + j, k, part]
                row[k, part] = total
        for n in range(omega.shape[1]):
            q = omega[lane, n] * residence[lane] / bends[lane]
            if q > reach[lane]:
                found[lane, n] = 0.0
                continue
            place = np.arcsinh(q) * scale
            first = min(int(place), columns - TERMS)
            _weights(place - first, w)
            fall = 0.0
            turn = 0.0
            for k in range(TERMS):
                fall += w[k] * row[first + k, 0]
                turn += w[k] * row[first + k, 1]
            root = np.sqrt(np.sqrt(1 + q * q))
            fall *= q * q / (root * root * root)
            turn = turn * q / root + 0.5 * omega[lane, n] * residence[lane]
            size = np.exp(-fall)
            found[lane, n] = size * np.cos(turn) - 1j * size * np.sin(turn)


@njit(cache=True, nogil=True, error_model="numpy")
def _weights(t: float, w: FloatArray) -> None:
    """Six quintic B-splines at t in [0, 1] of an interval."""
    for side in range(2):
        x = t if side else 1 - t
        s = x * x
        w[5 * side] = s * s * x / 120
        w[4 - 3 * side] = (26 + x * (-50 + x * (20 + x * (20 + x * (-20 + 5 * x))))) / 120
        w[3 - side] = (66 + s * (-60 + s * (30 - 10 * x))) / 120
