"""The transfer function of a tee: that of one stirred tank."""

from tailrace.eluent.stream import Stream
from tailrace.parts.tee.part import Tee
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.spectra import tanks


def transfer(tee: Tee, stream: Stream, omega: FloatArray) -> ComplexArray:
    """At (lanes, frequencies) omega in rad/s; complex, 1."""
    return tanks(omega, tee.residence(stream), 1.0)
