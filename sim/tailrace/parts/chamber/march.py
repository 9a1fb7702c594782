"""How a band goes through a chamber: exactly, by the response of tanks in series."""

from tailrace.eluent.stream import Stream
from tailrace.parts.chamber.part import Chamber
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution
from tailrace.signals.response import through_tanks


def march(chamber: Chamber, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a chamber."""
    return through_tanks(band, chamber.residence(stream), chamber.tanks, resolution.truncation)
