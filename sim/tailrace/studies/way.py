"""The whole way of one solute: what each part holds and hands on, and what is in each tube."""

from dataclasses import dataclass

import numpy as np

from tailrace.errors import BudgetError
from tailrace.journey import Result, travel
from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.scenario import Scenario
from tailrace.signals.band import Band
from tailrace.studies.plume import Plume, lane_named, plume
from tailrace.studies.runner import Progress
from tailrace.studies.sliders import textbook

ENDS = 2e-3
"""Share of the amount with which a part's time on the film begins and ends."""


@dataclass(frozen=True, kw_only=True)
class Leg:
    """One part of the way.

    Parameters
    ----------
    name : str
    times : (times,) array, s
        While the band passes it.
    band : Band
        What leaves it, one lane.
    begins : bool
        Whether the band begins here.
    plume : Plume or None
        What is in it at these times, where it is a tube.
    """

    name: str
    times: FloatArray
    band: Band
    begins: bool = False
    plume: Plume | None = None


@dataclass(frozen=True, kw_only=True)
class Way:
    """All parts that the recorded band has passed; ``mean`` (s) and ``variance`` (s^2) of the
    textbook's Gaussian, NaN where there is none."""

    title: str
    solute: str
    legs: tuple[Leg, ...]
    mean: float
    variance: float

    def held(self, leg: int, time: float) -> float:
        """The amount in a part over that injected."""
        one = self.legs[leg]
        before = 1.0 if one.begins else gone(self.legs[leg - 1].band, time)
        return float(np.clip(before - gone(one.band, time), 0.0, 1.0))


def gone(band: Band, time: float) -> float:
    """The share of a band that has passed by a time (s)."""
    heights = np.clip(band.values[0], 0.0, None)
    sums = np.concatenate([[0.0], np.cumsum(heights)])
    edges = band.start[0] + band.step[0] * (np.arange(sums.size) - 0.5)
    return float(np.interp(time, edges, sums / sums[-1]))


def whole_way(
    scenario: Scenario,
    solute: str | None = None,
    count: int = 40,
    rings: int = 40,
    sections: int = 200,
    progress: Progress | None = None,
) -> Way:
    """Send one solute through all parts, and look into every tube.

    ``count``: moments of each part. Raises StudyError for an unknown solute; BudgetError or
    AccuracyError as of ``tailrace.journey.travel`` and of ``plume``.
    """
    lane = lane_named(scenario, solute)
    result = travel(scenario.itinerary())
    legs: list[Leg] = []
    for number, part in enumerate(result.recording):
        assert part.band is not None
        band, begins = part.band.lane(lane), not legs
        times = _while_passing(None if begins else legs[-1].band, band, count)
        inside = None
        if part.name in _tubes(scenario):
            name = result.lanes[lane]
            try:
                inside = plume(scenario, part.name, name, times, rings, sections)
            except BudgetError:  # the film shows how much it holds
                inside = None
        legs.append(Leg(name=part.name, times=times, band=band, begins=begins, plume=inside))
        if progress is not None:
            progress(number + 1, len(result.recording))
    mean, variance = _gaussian(result, lane)
    return Way(
        title=scenario.title,
        solute=result.lanes[lane],
        legs=tuple(legs),
        mean=mean,
        variance=variance,
    )


def _gaussian(result: Result, lane: int) -> tuple[float, float]:
    mean, variance = textbook(result, lane)
    return (mean, variance) if np.isfinite(mean) and variance > 0 else (np.nan, np.nan)


def _tubes(scenario: Scenario) -> set[str]:
    return {part.name for part, _ in scenario.itinerary().passages if part.shows_inside}


def _while_passing(before: Band | None, behind: Band, count: int) -> FloatArray:
    first = behind if before is None else before
    start, end = _at(first, ENDS), _at(behind, 1 - ENDS)
    if before is None:
        start = min(start, 0.0)
    return np.linspace(start, max(end, start + 1e-9), count)


def _at(band: Band, share: float) -> float:
    """When so much of a band has passed, s."""
    heights = np.clip(band.values[0], 0.0, None)
    sums = np.concatenate([[0.0], np.cumsum(heights)])
    edges = band.start[0] + band.step[0] * (np.arange(sums.size) - 0.5)
    return float(np.interp(share * sums[-1], sums, edges))
