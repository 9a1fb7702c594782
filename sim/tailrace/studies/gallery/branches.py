"""Journeys that begin alike: what they have in common is marched once."""

from collections.abc import Sequence
from functools import partial

from tailrace.journey import Itinerary, Result
from tailrace.journey.evaluation import evaluate
from tailrace.journey.plan import first_pulse
from tailrace.journey.propagation import Stage, passed, spread
from tailrace.parts.base import Passages
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution
from tailrace.studies.gallery.curves import apart
from tailrace.threads import in_threads

FEWEST = 2
"""Parts in common: the grid goes by the injection and the first part behind it."""


def branched(itineraries: Sequence[Itinerary]) -> tuple[list[Result], list[float]]:
    """Make journeys that begin with the same parts, to the same bits as one by one.

    Parameters
    ----------
    itineraries : sequence of Itinerary
        With one lane each, all of one resolution.

    Returns
    -------
    list of Result, list of float
        As of ``travelled`` and ``curve_errors``.
    """
    resolution, common = itineraries[0].resolution, _common(itineraries)
    begun = spread(itineraries[0])[:common]
    both = (resolution.coarser(), resolution)
    fronts = [_onward(first_pulse(begun, one), begun, one) for one in both if common]
    made = in_threads(partial(_made, fronts, common), itineraries)
    return [result for result, _ in made], [error for _, error in made]


def _common(itineraries: Sequence[Itinerary]) -> int:
    """Parts that all begin with, the very same ones; none where these are too few."""
    first, *others = (one.passages for one in itineraries)
    count = 0
    for passages in zip(first, *others, strict=False):
        part, stream = passages[0]
        if any(one is not part or behind is not stream for one, behind in passages):
            break
        count += 1
    return count if count >= FEWEST else 0


def _onward(band: Band, passages: Passages, resolution: Resolution) -> tuple[Band, list[Stage]]:
    """What leaves some parts, and what stands behind each of them."""
    stages = []
    for passage in passages:
        band, stage = passed(passage, band, resolution)
        stages.append(stage)
    return band, stages


def _made(
    fronts: Sequence[tuple[Band, list[Stage]]], common: int, itinerary: Itinerary
) -> tuple[Result, float]:
    """One journey from where the parts in common end, and how far its curve may be off."""
    passages = spread(itinerary)
    whole = []
    for at, one in enumerate((itinerary.resolution.coarser(), itinerary.resolution)):
        band, stages = fronts[at] if common else (first_pulse(passages, one), [])
        whole.append([*stages, *_onward(band, passages[common:], one)[1]])
    coarse, fine = whole
    result = evaluate(itinerary, fine, coarse)
    rough = [one.band for one in coarse if one.band is not None]
    return result, apart(result, rough[-1])
