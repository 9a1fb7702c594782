"""How a band goes through a tube that is bent, or that takes over the profile of one before it."""

from tailrace.eluent.stream import Stream
from tailrace.parts.tube import march as straight
from tailrace.parts.tube.bent import march as bent
from tailrace.parts.tube.bent.lanes import each_its_way
from tailrace.parts.tube.part import Tube
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution
from tailrace.signals.window import decimated

ENTERING = 1e-4
"""What doubling the step may change of the band that enters, relative to its L2 norm: as much as
the grid errs."""


def march(tube: Tube, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a tube, as the march of a straight one does.

    Raises BudgetError or AccuracyError as there.
    """
    allowed = ENTERING / resolution.refinement**4
    return each_its_way(
        tube,
        stream,
        band,
        lambda fourier, residence, some: straight.along(fourier, residence, some, resolution),
        lambda chains, some: bent.march(
            chains, decimated(some, allowed), resolution.refinement, resolution.truncation
        ),
    )
