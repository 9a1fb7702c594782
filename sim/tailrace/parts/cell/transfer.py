"""The transfer function of a flow cell: that of tanks in series, of their mean, or of a plug."""

from tailrace.eluent.stream import Stream
from tailrace.parts.cell.part import Cell
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.spectra import even, mean_of_tanks, tanks


def transfer(cell: Cell, stream: Stream, omega: FloatArray) -> ComplexArray:
    """Of what the light beam sees; at (lanes, frequencies) omega in rad/s; complex, 1."""
    if cell.read == "axis":
        return even(omega, cell.residence(stream))
    if cell.read == "mean":
        return mean_of_tanks(omega, cell.residence(stream), round(cell.tanks))
    return tanks(omega, cell.residence(stream), cell.tanks)
