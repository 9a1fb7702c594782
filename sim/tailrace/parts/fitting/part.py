"""A fitting: a joint whose tube does not reach the bottom, so that a gap is left."""

from dataclasses import dataclass

import numpy as np

from tailrace.eluent.pressure import hagen_poiseuille


@dataclass(frozen=True, kw_only=True)
class Fitting:
    """The gap of a badly made joint: a core that the stream sweeps and mixes, a still ring around.

    Parameters
    ----------
    gap_bore, gap_length : scalar or (lanes,) array, m
    unswept : scalar or (lanes,) array, 1
        Fraction of the gap that the stream does not sweep: a ring against the wall, which the
        solute enters and leaves by diffusion alone.
    """

    name: str
    gap_bore: float | np.ndarray
    gap_length: float | np.ndarray
    unswept: float | np.ndarray = 0.0

    kind = "fitting"

    @property
    def volume(self):
        """Of the whole gap. Scalar or (lanes,) array, m^3."""
        return np.pi / 4 * np.square(self.gap_bore) * self.gap_length

    @property
    def pocket_depth(self):
        """From the swept core to the wall. Scalar or (lanes,) array, m."""
        return self.gap_bore / 2 * (1 - np.sqrt(1 - np.asarray(self.unswept, dtype=float)))

    def residence(self, stream):
        """Mean time in the gap, pocket included. Scalar or (lanes,) array, s."""
        return self.volume / stream.flow_rate

    def pressure_drop(self, stream):
        """Of the gap as a short tube; negligible in practice. Scalar or (lanes,) array, Pa."""
        return hagen_poiseuille(stream, self.gap_bore, self.gap_length)
