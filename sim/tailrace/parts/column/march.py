"""How a band goes through a column: its heads as tanks, its bed by response or cell by cell."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.column.part import Column
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution
from tailrace.signals.response import through_plates, through_tanks


def march(column: Column, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a column.

    A linear bed in equilibrium passes it exactly; one with slow exchange or a Langmuir isotherm is
    marched (``cells``).
    """
    head = np.broadcast_to(column.head_time(stream), (band.lanes,))
    heads = np.any(head > 0)
    if heads:
        band = through_tanks(band, head, 1.0, resolution.truncation)
    band = _bed(column, stream, band, resolution)
    return through_tanks(band, head, 1.0, resolution.truncation) if heads else band


def _bed(column: Column, stream: Stream, band: Band, resolution: Resolution) -> Band:
    overloaded = np.any(column.loading(stream) > 0)
    if not overloaded and column.kinetics == "equilibrium":
        tail, whole = column.tail_time(stream), column.retention_time(stream)
        narrow = np.square(whole) / column.plate_number(stream) - np.square(tail)
        band = through_plates(
            band, whole - tail, np.square(whole - tail) / narrow, resolution.truncation
        )
        if not np.any(tail > 0):
            return band
        tail = np.broadcast_to(tail, (band.lanes,))
        return through_tanks(band, tail, 1.0, resolution.truncation)
    # compiled only where it is used
    from tailrace.parts.column.cells import march as cells

    if overloaded:
        return cells.overloaded(column, stream, band, resolution)
    return cells.exchanging(column, stream, band, resolution)
