"""How a band goes through the flow cell: exactly, by the response of tanks in series."""

from tailrace.eluent.stream import Stream
from tailrace.parts.cell.part import Cell
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution
from tailrace.signals.response import through_tanks


def march(cell: Cell, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a cell; what is seen is as ``read`` says."""
    residence = cell.residence(stream)
    return through_tanks(band, residence, cell.tanks, resolution.truncation, cell.read == "mean")
