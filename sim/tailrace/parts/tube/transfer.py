"""The transfer function of a straight tube, read from the table of ``spectrum.py``."""

import numpy as np
from numba import njit

from tailrace.eluent.stream import Stream
from tailrace.parts.tube.part import Tube
from tailrace.parts.tube.spectrum import LEAST, MOST, bend, highest, table
from tailrace.quantities.arrays import ComplexArray, FloatArray


def transfer(tube: Tube, stream: Stream, omega: FloatArray) -> ComplexArray:
    """Flux average behind the tube of a band that enters uniform over the section.

    Parameters
    ----------
    omega : (lanes, frequencies) array, rad/s
        From 0 upwards.

    Returns
    -------
    (lanes, frequencies) complex array, 1
        Good to 1e-7 relative to itself (a test); 0 where less than 1e-11 passes. Without molecular
        diffusion along the tube.
    """
    lanes = omega.shape[0]
    fourier = np.broadcast_to(tube.fourier_number(stream), (lanes,))
    residence = np.broadcast_to(np.asarray(tube.residence(stream), dtype=float), (lanes,))
    return straight(fourier, residence, omega)


def straight(fourier: FloatArray, residence: FloatArray, omega: FloatArray) -> ComplexArray:
    """The same by Fourier numbers and residences, s; (lanes,) arrays."""
    found = np.empty(omega.shape, dtype=complex)
    coefficients = table()
    place = np.log(fourier / LEAST) / np.log(MOST / LEAST) * (coefficients.shape[0] - 3)
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
    w = np.empty(4)
    for lane in range(omega.shape[0]):
        at = min(max(int(places[lane]), 0), rows - 4)
        _weights(places[lane] - at, w)
        scale = (columns - 3) / np.arcsinh(reach[lane])
        greatest = min(omega[lane].max() * residence[lane] / bends[lane], reach[lane])
        for k in range(min(int(np.arcsinh(greatest) * scale) + 5, columns)):
            for part in range(2):
                row[k, part] = (
                    w[0] * coefficients[at, k, part]
                    + w[1] * coefficients[at + 1, k, part]
                    + w[2] * coefficients[at + 2, k, part]
                    + w[3] * coefficients[at + 3, k, part]
                )
        for n in range(omega.shape[1]):
            q = omega[lane, n] * residence[lane] / bends[lane]
            if q > reach[lane]:
                found[lane, n] = 0.0
                continue
            place = np.arcsinh(q) * scale
            first = min(int(place), columns - 4)
            _weights(place - first, w)
            fall = 0.0
            turn = 0.0
            for k in range(4):
                fall += w[k] * row[first + k, 0]
                turn += w[k] * row[first + k, 1]
            root = np.sqrt(np.sqrt(1 + q * q))
            fall *= q * q / (root * root * root)
            turn = turn * q / root + 0.5 * omega[lane, n] * residence[lane]
            size = np.exp(-fall)
            found[lane, n] = size * np.cos(turn) - 1j * size * np.sin(turn)


@njit(cache=True, nogil=True, error_model="numpy")
def _weights(t: float, w: FloatArray) -> None:
    """Four cubic B-splines at t in [0, 1] of an interval."""
    u = 1 - t
    w[0] = u * u * u / 6
    w[1] = (3 * t * t * t - 6 * t * t + 4) / 6
    w[2] = (3 * u * u * u - 6 * u * u + 4) / 6
    w[3] = t * t * t / 6
