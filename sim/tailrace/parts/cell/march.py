"""How a band goes through the flow cell: exactly, by the response of tanks or of a plug."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.cell.part import Cell
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution
from tailrace.signals.response import convolved, through_tanks, uniform_weights


def march(cell: Cell, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a cell; what is seen is as ``read`` says."""
    residence = cell.residence(stream)
    if cell.read == "axis":
        width = np.broadcast_to(np.asarray(residence, dtype=float), (band.lanes,))
        width = np.maximum(width, 1e-9 * band.step)
        return convolved(band, *uniform_weights(np.zeros(band.lanes), width, band.step))
    return through_tanks(band, residence, cell.tanks, resolution.truncation, cell.read == "mean")
