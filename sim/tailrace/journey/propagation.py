"""Sending a band along a path, part by part, and what stands behind each of them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tailrace.errors import BudgetError
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.plan import DECIMATION, first_pulse
from tailrace.measures import Moments, Peaks, moments
from tailrace.parts import KINDS
from tailrace.parts.base import Part, Passage, Passages
from tailrace.quantities.arrays import BoolArray, FloatArray
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution
from tailrace.signals.window import decimated, trimmed

MANY_SAMPLES = 128
"""A band of fewer is not looked at for a cusp."""


@dataclass(frozen=True, kw_only=True)
class Stage:
    """What stands behind one part.

    Parameters
    ----------
    moments : Moments
        Of the band.
    lost : (lanes,) array, 1
        What the part's time window cut off.
    band : Band or None
        Behind a detector the points that it records; None where it was let go of (``slim``).
    seen : (lanes,) array, 1/s, or None
        Height of the band's maximum, kept where the band was let go of.
    """

    moments: Moments
    lost: FloatArray
    band: Band | None
    seen: FloatArray | None = None

    @property
    def crest(self) -> FloatArray:
        """Height of the maximum. (lanes,) array, 1/s; NaN where there is no peak."""
        if self.seen is not None or self.band is None:
            return np.full(self.lost.shape, np.nan) if self.seen is None else self.seen
        return Peaks(self.band).outlines.height

    def slim(self, part: Part) -> "Stage":
        """Without the band, for the inside of a path that many journeys share."""
        return replace(self, band=None, seen=self.crest if part.observes else None)

    def picked(self, lanes: slice) -> "Stage":
        """Some of the lanes as a stage of its own, without zeros at the end of its band."""
        return Stage(
            moments=Moments(*(one[lanes] for one in self.moments.rows)),
            lost=self.lost[lanes],
            band=None if self.band is None else self.band.picked(lanes),
            seen=None if self.seen is None else self.seen[lanes],
        )

    @classmethod
    def joined(cls, stages: Sequence["Stage"]) -> "Stage":
        """All lanes of several stages behind parts of one kind, in their order."""
        bands = [one.band for one in stages if one.band is not None]
        seen = [one.seen for one in stages if one.seen is not None]
        rows = zip(*(one.moments.rows for one in stages), strict=True)
        return cls(
            moments=Moments(*(np.concatenate(row) for row in rows)),
            lost=np.concatenate([one.lost for one in stages]),
            band=Band.joined(bands) if len(bands) == len(stages) else None,
            seen=np.concatenate(seen) if len(seen) == len(stages) else None,
        )


def spread(itinerary: Itinerary) -> list[Passage]:
    """The passages of an itinerary, every number of the streams a (lanes,) array."""
    lanes = len(itinerary.lanes)
    return [(part, stream.over(lanes)) for part, stream in itinerary.passages]


def propagate(
    passages: Passages, resolution: Resolution, count: Callable[[], None] | None = None
) -> list[Stage]:
    """Hand a band from part to part.

    Parameters
    ----------
    passages : sequence of (part, Stream)
        Every number of the streams a (lanes,) array.
    count : callable, optional
        Called after each part.

    Returns
    -------
    list of Stage
        One a part.

    Raises
    ------
    BudgetError, AccuracyError
        As of ``tailrace.journey.travel``.
    """
    band = first_pulse(passages, resolution)
    stages = []
    for passage in passages:
        band, stage = passed(passage, band, resolution)
        stages.append(stage)
        if count is not None:
            count()
    return stages


def passed(passage: Passage, band: Band, resolution: Resolution) -> tuple[Band, Stage]:
    """Send a band through one part, cut what leaves and make its step as long as it may be.

    Parameters
    ----------
    passage : (part, Stream)

    Returns
    -------
    Band
        Behind the part; of a detector the filtered signal, from which its points are taken.

    Raises
    ------
    BudgetError, AccuracyError
        As of ``tailrace.journey.travel``.
    """
    part, stream = passage
    if part.idle:  # cut or decimated once more, the recorded band would not be the same
        return band, Stage(moments=moments(band), lost=np.zeros(band.lanes), band=band)
    kind, tolerance = KINDS[part.kind], DECIMATION / resolution.refinement**4
    if band.values.shape[1] > MANY_SAMPLES:
        # a cusp was kept for what is read off it; the next part does not need it
        band = replace(decimated(band, tolerance), upstream=band.upstream, jumps=band.jumps)
    entered = band.area
    try:
        band = kind.march(part, stream, band, resolution)
    except BudgetError as error:
        # What several parts share does not know in which of them it is.
        text = str(error)
        raise BudgetError(text if text.startswith(part.name) else f"{part.name}: {text}") from None
    held, upstream, jumps = entered - band.area, band.upstream, band.jumps
    band, cut_off = trimmed(band, resolution.truncation)
    if jumps is None:
        band = decimated(band, tolerance, cusps=True)
    band = replace(band, upstream=upstream, jumps=jumps)
    recorded = kind.recorded(part, band)
    return band, Stage(moments=moments(recorded), lost=held + cut_off, band=recorded)


def cusped(band: Band, resolution: Resolution) -> BoolArray:
    """Whether lanes were kept on finer steps for the sake of a cusp. (lanes,) array."""
    if band.values.shape[1] <= MANY_SAMPLES:
        return np.zeros(band.lanes, dtype=bool)
    thin = decimated(replace(band, jumps=None), DECIMATION / resolution.refinement**4)
    return np.asarray(thin.step > band.step)


def pass_through(passages: Passages, resolution: Resolution) -> tuple[list[Band], list[FloatArray]]:
    """As ``propagate``: the band behind each part, and what time windows cut off (1)."""
    stages = propagate(passages, resolution)
    return [one.band for one in stages if one.band is not None], [one.lost for one in stages]
