"""The transfer function of a joint's gap: a stirred core, and a still pocket beside it."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.fitting.part import Fitting
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.spectra import by_lane, tanks


def transfer(fitting: Fitting, stream: Stream, omega: FloatArray) -> ComplexArray:
    """1 / (1 + p (A + B tanh(q)/q)), q^2 = p c, p = i omega.

    A and B are the residence times of core and pocket, c is the time in which the pocket fills.

    Parameters
    ----------
    omega : (lanes, frequencies) array, rad/s

    Returns
    -------
    (lanes, frequencies) complex array, 1
    """
    residence, unswept = np.asarray(fitting.residence(stream)), np.asarray(fitting.unswept)
    if not np.any(unswept > 0):
        return tanks(omega, residence, 1.0)
    filling = fitting.filling_time(stream)
    root = np.sqrt(1j * omega * by_lane(filling))
    small = np.abs(root) < 1e-3
    safe = np.where(small, 1.0, root)
    # tanh by exp(-2 q), which does not overflow
    fading = np.exp(-2 * safe)
    mean = np.where(small, 1 - root**2 / 3, (1 - fading) / ((1 + fading) * safe))
    core, pocket = by_lane(residence * (1 - unswept)), by_lane(residence * unswept)
    return np.asarray(1 / (1 + 1j * omega * (core + pocket * mean)))
