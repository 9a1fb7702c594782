"""How a band goes through the flow cell: exactly, by the response of tanks in series."""

from tailrace.eluent.stream import Stream
from tailrace.parts.cell.part import Cell
from tailrace.signals.band import Band
from tailrace.signals.gamma import through_tanks
from tailrace.signals.resolution import Resolution


def march(cell: Cell, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a cell; what is seen is as ``read`` says. Returns Band."""
    residence = cell.residence(stream)
    return through_tanks(band, residence, cell.tanks, resolution.truncation, cell.read == "mean")
