"""How a band goes through a chamber: exactly, by the response of tanks in series."""

from tailrace.signals.gamma import through_tanks


def march(chamber, stream, band, resolution):
    """Send a band through a chamber. Chamber, Stream, Band, Resolution in, Band out."""
    return through_tanks(band, chamber.residence(stream), chamber.tanks, resolution.truncation)
