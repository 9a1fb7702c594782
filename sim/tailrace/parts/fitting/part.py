"""A fitting: a joint whose tube does not reach the bottom, so that a gap is left."""

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from tailrace.eluent.stream import Stream, hagen_poiseuille
from tailrace.parts.base import Doubt, Stirred
from tailrace.quantities.arrays import Number

EXCHANGE = 5.0
"""Of the flow, between jet and ring. A free laminar jet draws in 8 pi nu x by the distance x
(H. Schlichting, Z. angew. Math. Mech. 13 (1933) 260; the formula from memory): water at 0.5 mL/min
4.5 times its own flow in 1.5 mm. A gap ends there, and what was drawn in turns back."""

POCKET = 0.5
"""Share of a gap that may be unswept where nothing is said (our own choice)."""


@dataclass(frozen=True, kw_only=True)
class Fitting(Stirred):
    """The gap of a badly made joint: a core that the stream sweeps and mixes, a ring around it.

    Parameters
    ----------
    gap_bore, gap_length : scalar or (lanes,) array, m
    unswept : scalar or (lanes,) array, 1
        Fraction of the gap that the stream does not sweep: a ring against the wall, which the
        jet stirs as it passes, and which the solute enters and leaves by diffusion, too.
    exchange : scalar or (lanes,) array, 1
        Flow between core and ring over the flow through the joint; 0 leaves diffusion alone.
    """

    name: str
    gap_bore: Number
    gap_length: Number
    unswept: Number = 0.0
    exchange: Number = EXCHANGE

    kind = "fitting"
    faults = ("gap_length",)
    joins = True

    @property
    def volume(self) -> Number:
        """Of the whole gap. Scalar or (lanes,) array, m^3."""
        return np.pi / 4 * np.square(self.gap_bore) * self.gap_length

    @property
    def pocket_depth(self) -> Number:
        """From the swept core to the wall. Scalar or (lanes,) array, m."""
        swept = np.sqrt(1 - np.asarray(self.unswept))
        return np.asarray(self.gap_bore / 2 * (1 - swept))

    def filling_time(self, stream: Stream) -> Number:
        """Time c in which the ring fills. Scalar or (lanes,) array, s; 0 without a ring.

        A layer that diffusion alone fills, c = depth^2/D, lags behind the stream by a third of it;
        what the jet stirs lags by its volume over the flow that it exchanges. Both go on side by
        side: their rates add up.
        """
        pocket = np.asarray(self.unswept * self.residence(stream))
        still = np.square(self.pocket_depth) / stream.diffusivity
        rates = np.where(pocket > 0, 3 * pocket + self.exchange * still, 1.0)
        return np.asarray(still * 3 * pocket / rates)

    def compiles(self, stream: Stream) -> tuple[str, ...]:
        """Of the ring."""
        return ("parts/fitting/march",) if np.any(np.asarray(self.unswept) > 0) else ()

    def pressure_drop(self, stream: Stream) -> Number:
        """Of the gap as a short tube; negligible in practice. Scalar or (lanes,) array, Pa."""
        return hagen_poiseuille(stream, self.gap_bore, self.gap_length)

    def doubts(self, given: Collection[str], stream: Stream) -> list[Doubt]:
        """Its pocket, or how fast that is rinsed."""
        ring = bool(np.any(np.asarray(self.unswept) > 0))
        if ("exchange" if ring else "unswept") in given:
            return []
        return [
            Doubt(
                taken=f"rinsed by {EXCHANGE:g} times the flow, and not a third or three times that"
                if ring
                else f"swept throughout, and not with a pocket of {POCKET:g} of the gap",
                settled="the peak of a union in place of the column before and after the joint is "
                "made again",
                others=tuple(replace(self, exchange=EXCHANGE * factor) for factor in (1 / 3, 3))
                if ring
                else (replace(self, unswept=POCKET),),
            )
        ]

    def assumptions(self, given: Collection[str]) -> list[str]:
        """How the gap is mixed."""
        if np.any(np.asarray(self.unswept) > 0):
            flows = float(np.max(self.exchange))
            return [
                f"the unswept ring of the gap exchanges {flows:.3g} times the flow with the jet "
                "that passes, beside diffusion"
            ]
        return ["the whole gap taken as swept and mixed"]
