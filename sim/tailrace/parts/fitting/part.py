"""A fitting: a joint whose tube does not reach the bottom, so that a gap is left."""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from tailrace.eluent.pressure import hagen_poiseuille
from tailrace.eluent.stream import Stream
from tailrace.parts.base import Stirred
from tailrace.quantities.arrays import Number


@dataclass(frozen=True, kw_only=True)
class Fitting(Stirred):
    """The gap of a badly made joint: a core that the stream sweeps and mixes, a still ring around.

    Parameters
    ----------
    gap_bore, gap_length : scalar or (lanes,) array, m
    unswept : scalar or (lanes,) array, 1
        Fraction of the gap that the stream does not sweep: a ring against the wall, which the
        solute enters and leaves by diffusion alone.
    """

    name: str
    gap_bore: Number
    gap_length: Number
    unswept: Number = 0.0

    kind = "fitting"

    @property
    def volume(self) -> Number:
        """Of the whole gap. Scalar or (lanes,) array, m^3."""
        return np.pi / 4 * np.square(self.gap_bore) * self.gap_length

    @property
    def pocket_depth(self) -> Number:
        """From the swept core to the wall. Scalar or (lanes,) array, m."""
        swept = np.sqrt(1 - np.asarray(self.unswept))
        return np.asarray(self.gap_bore / 2 * (1 - swept))

    def pressure_drop(self, stream: Stream) -> Number:
        """Of the gap as a short tube; negligible in practice. Scalar or (lanes,) array, Pa."""
        return hagen_poiseuille(stream, self.gap_bore, self.gap_length)

    def assumptions(self, given: Collection[str]) -> list[str]:
        """How the gap is mixed."""
        if np.any(np.asarray(self.unswept) > 0):
            return [
                "the unswept ring of the gap taken as still; only diffusion fills and empties it"
            ]
        return ["the whole gap taken as swept and mixed"]
