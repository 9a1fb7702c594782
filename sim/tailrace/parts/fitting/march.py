"""How a band goes through a joint's gap: as through one stirred volume."""

from tailrace.errors import PartError
from tailrace.signals.gamma import through_tanks


def march(fitting, stream, band, resolution):
    """Send a band through a fitting. Fitting, Stream, Band, Resolution in, Band out.

    Raises
    ------
    PartError
        For ``unswept`` above zero: the stagnant pocket is not modelled yet.
    """
    if fitting.unswept > 0:
        raise PartError(
            f"{fitting.name}: the unswept pocket of a joint is not modelled yet: set unswept to 0"
        )
    return through_tanks(band, fitting.residence(stream), 1.0, resolution.cut)
