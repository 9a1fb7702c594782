"""How a band goes through a tee: as through one stirred tank; amounts stay as they are in time."""

from tailrace.eluent.stream import Stream
from tailrace.parts.tee.part import Tee
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution
from tailrace.signals.response import through_tanks


def march(tee: Tee, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a tee."""
    return through_tanks(band, tee.residence(stream), 1.0, resolution.truncation)
