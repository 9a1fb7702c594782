"""How a band goes through the flow cell: exactly, by the response of tanks in series."""

from tailrace.signals.gamma import through_tanks


def march(cell, stream, band, resolution):
    """Send a band through a cell; what is seen is as ``read`` says. Returns Band."""
    residence = cell.residence(stream)
    return through_tanks(band, residence, cell.tanks, resolution.truncation, cell.read == "mean")
