"""What travels: bands, the grids that they are written on, and what linear parts do to them."""

from tailrace.signals.band import Band
from tailrace.signals.cumulants import Cumulants
from tailrace.signals.resolution import Resolution

__all__ = ["Band", "Cumulants", "Resolution"]
