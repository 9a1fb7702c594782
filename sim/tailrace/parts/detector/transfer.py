"""The transfer function of the detector's electronics; taking points is none of it."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.detector.part import Detector
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.spectra import even, tanks


def transfer(detector: Detector, stream: Stream, omega: FloatArray) -> ComplexArray:
    """Filter and mean over the time before; at (lanes, frequencies) omega in rad/s; complex, 1."""
    found = tanks(omega, detector.time_constant, 1.0)
    if np.any(np.asarray(detector.averaging) > 0):
        found = found * even(omega, detector.averaging)
    return found
