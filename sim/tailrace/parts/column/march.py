"""How a band goes through a column: its heads as tanks, its bed by response or cell by cell."""

import numpy as np

from tailrace.signals.gamma import through_tanks
from tailrace.signals.response import passed


def march(column, stream, band, resolution):
    """Send a band through a column.

    Parameters
    ----------
    column : Column
    stream : Stream
    band : Band
    resolution : Resolution

    Returns
    -------
    Band
        A linear bed in equilibrium passes it exactly; one with slow exchange or a Langmuir
        isotherm is marched (``cells``).
    """
    head = np.broadcast_to(column.head_time(stream), (band.lanes,))
    heads = np.any(head > 0)
    if heads:
        band = through_tanks(band, head, 1.0, resolution.truncation)
    band = _bed(column, stream, band, resolution)
    return through_tanks(band, head, 1.0, resolution.truncation) if heads else band


def _bed(column, stream, band, resolution):
    overloaded = np.any(column.loading(stream) > 0)
    if not overloaded and column.kinetics == "equilibrium":
        return in_equilibrium(column, stream, band, resolution)
    # compiled only where it is used
    from tailrace.parts.column.cells import march as cells

    if overloaded:
        return cells.overloaded(column, stream, band, resolution)
    return cells.exchanging(column, stream, band, resolution)


def in_equilibrium(column, stream, band, resolution):
    """Send a band through a linear bed whose exchange is at once in equilibrium.

    The impulse response of convection with dispersion on a half-infinite column (Lapidus and
    Amundson, J. Phys. Chem. 56 (1952) 984) is an inverse Gaussian density: with retention time t0
    and N plates, sqrt(N t0 / (2 pi t^3)) exp(-N (t - t0)^2 / (2 t0 t)).

    Parameters
    ----------
    column : Column
    stream : Stream
    band : Band
    resolution : Resolution

    Returns
    -------
    Band
    """
    retention = np.broadcast_to(column.retention_time(stream), (band.lanes,))
    plates = np.broadcast_to(column.plate_number(stream), (band.lanes,))

    def density(times):
        mean, n = retention[:, None], plates[:, None]
        safe = np.maximum(times, 1e-6 * mean)
        exponent = -n * (safe - mean) ** 2 / (2 * mean * safe)
        return np.sqrt(n * mean / (2 * np.pi * safe**3)) * np.exp(exponent)

    # outside these bounds the exponent is below log(cut)
    reach = 1 - np.log(resolution.truncation) / plates
    swing = np.sqrt(reach**2 - 1)
    begin, end = retention * (reach - swing), retention * (reach + swing)
    return passed(band, density, begin, end, retention / np.sqrt(plates))
