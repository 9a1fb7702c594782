"""A second, independent way through a tube that is bent, or that takes over a profile."""

from tailrace.eluent.stream import Stream
from tailrace.parts.tube import spectral as straight
from tailrace.parts.tube.bent import spectral as bent
from tailrace.parts.tube.bent.lanes import each_its_way
from tailrace.parts.tube.part import Tube
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution


def march(tube: Tube, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a tube, as the march of a straight one does.

    Raises AccuracyError as there.
    """
    return each_its_way(
        tube,
        stream,
        band,
        lambda fourier, residence, some: straight.along(fourier, residence, some),
        bent.march,
    )
