"""How a band goes through a chamber: exactly, by the response of tanks in series."""

from tailrace.eluent.stream import Stream
from tailrace.parts.chamber.part import Chamber
from tailrace.signals.band import Band
from tailrace.signals.gamma import through_tanks
from tailrace.signals.resolution import Resolution


def march(chamber: Chamber, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a chamber. Chamber, Stream, Band, Resolution in, Band out."""
    return through_tanks(band, chamber.residence(stream), chamber.tanks, resolution.truncation)
