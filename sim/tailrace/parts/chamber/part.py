"""A chamber: any mixed volume that is not the cell (valve groove, inline filter, mixer)."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Chamber:
    """A volume mixed as ``tanks`` equal stirred tanks, one after the other.

    Parameters
    ----------
    volume : scalar or (lanes,) array, m^3
        Of all tanks together.
    tanks : float, 1
        1 or more; need not be whole (the gamma distribution then stands between the cascades).
    """

    name: str
    volume: float | np.ndarray
    tanks: float = 1.0

    kind = "chamber"

    def residence(self, stream):
        """Scalar or (lanes,) array, s."""
        return self.volume / stream.flow_rate

    def pressure_drop(self, stream):
        """Zero: wide against the tubes. Scalar, Pa."""
        return 0.0
