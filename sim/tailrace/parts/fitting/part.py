"""A fitting: a joint whose tube does not reach the bottom, so that a gap is left."""

from dataclasses import dataclass

import numpy as np

from tailrace.eluent.pressure import hagen_poiseuille


@dataclass(frozen=True, kw_only=True)
class Fitting:
    """The gap of a badly made joint, taken as one well-mixed volume.

    Parameters
    ----------
    gap_bore, gap_length : scalar or (lanes,) array, m
    unswept : float, 1
        Fraction of the gap that the stream does not sweep.
    """

    name: str
    gap_bore: float | np.ndarray
    gap_length: float | np.ndarray
    unswept: float = 0.0

    kind = "fitting"

    @property
    def volume(self):
        """Of the whole gap. Scalar or (lanes,) array, m^3."""
        return np.pi / 4 * np.square(self.gap_bore) * self.gap_length

    def residence(self, stream):
        """Scalar or (lanes,) array, s."""
        return self.volume / stream.flow_rate

    def pressure_drop(self, stream):
        """Of the gap as a short tube; negligible in practice. Scalar or (lanes,) array, Pa."""
        return hagen_poiseuille(stream, self.gap_bore, self.gap_length)
