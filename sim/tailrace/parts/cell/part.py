"""The flow cell of the detector."""

from dataclasses import dataclass

import numpy as np

READS = ("outlet", "mean")


@dataclass(frozen=True, kw_only=True)
class Cell:
    """A flow cell mixed as ``tanks`` equal stirred tanks, one after the other.

    Parameters
    ----------
    volume : scalar or (lanes,) array, m^3
    tanks : float, 1
        1 or more; need not be whole with ``read = "outlet"``.
    read : str
        ``outlet``: the liquid that leaves the last tank is seen. ``mean``: the light beam sees
        the mean over the tanks.
    light_path : scalar or (lanes,) array, m
        NaN where it is not given.
    pressure_limit : scalar, Pa
        NaN where it is not given.
    """

    name: str
    volume: float | np.ndarray
    tanks: float = 1.0
    read: str = "outlet"
    light_path: float | np.ndarray = float("nan")
    pressure_limit: float = float("nan")

    kind = "cell"

    def residence(self, stream):
        """Scalar or (lanes,) array, s."""
        return self.volume / stream.flow_rate

    def pressure_drop(self, stream):
        """Zero: wide against the tubes. Scalar, Pa."""
        return 0.0
