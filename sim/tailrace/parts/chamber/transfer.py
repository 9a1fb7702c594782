"""The transfer function of a chamber: that of tanks in series."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.chamber.part import Chamber
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.spectra import tanks


def transfer(chamber: Chamber, stream: Stream, omega: FloatArray) -> ComplexArray:
    """At (lanes, frequencies) omega in rad/s; complex, 1."""
    return tanks(omega, np.asarray(chamber.residence(stream)), chamber.tanks)
