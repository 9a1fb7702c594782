"""Journeys side by side on the threads of this machine, and their signals as points to draw."""

from collections.abc import Callable, Sequence

import numpy as np

from tailrace.journey import Itinerary, Result, travel
from tailrace.journey.discretisation import EDGE, ORDER_GAIN
from tailrace.journey.product import multiply, not_multiplied, unresolved
from tailrace.journey.propagation import pass_through, spread
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample
from tailrace.studies.batch import PRODUCT
from tailrace.studies.lanes import band_of
from tailrace.threads import in_threads

POINTS = 300
"""Of one curve, as evenly along its line as its samples allow."""


def travelled(
    itineraries: Sequence[Itinerary], by: Callable[[Itinerary], Result] = travel
) -> list[Result]:
    """Make journeys, each by itself; how many threads share them changes nothing.

    As lanes of one journey, an early peak and a late one would share the finest grid and the
    longest time.

    Returns
    -------
    list of Result
    """
    return in_threads(by, itineraries)


def quickest(itinerary: Itinerary, engine: str = PRODUCT) -> Result:
    """Make a journey as a product of transfer functions where it is one, else as a march, as with
    an ``engine`` that says so."""
    passed = spread(itinerary)
    if engine == PRODUCT and not not_multiplied(passed) and not unresolved(passed):
        return multiply(itinerary)
    return travel(itinerary)


def metrics_of(results: Sequence[Result], group: str, name: str) -> FloatArray:
    """One metric of many results with one lane each.

    ``group``: ``recorded``, ``column_alone`` or ``numerical_error``.

    Returns
    -------
    (results,) array, in the unit of the metric
    """
    return np.array([getattr(one, group)[name][0] for one in results])


def curve_errors(itineraries: Sequence[Itinerary], results: Sequence[Result]) -> list[float]:
    """How far signals may be from the converged ones, from a second run half as fine.

    ``itineraries``: with one lane each.

    Returns
    -------
    list of float, 1
        Largest distance of the two signals over the height, by the same gain as
        ``tailrace.journey.travelling`` uses.
    """
    coarse = in_threads(_coarse_band, itineraries)
    pairs = zip(results, coarse, strict=True)
    return [apart(result, rough) for result, rough in pairs]


def points_of(band: Band, least: float, latest: float = np.inf) -> tuple[FloatArray, FloatArray]:
    """Samples of a band from which its curve can be drawn by straight lines.

    Parameters
    ----------
    band : Band
        With one lane.
    least : float, 1
        Share of the height below which both ends are left out.
    latest : float, s
        Time from which the rest is left out.

    Returns
    -------
    times, values : (points,) array, s and 1/s
    """
    times, values = band.times[0], band.values[0]
    seen = np.flatnonzero((values >= least * values.max()) & (times <= latest))
    times, values = times[seen[0] : seen[-1] + 1], values[seen[0] : seen[-1] + 1]
    across, up = np.diff(times) / np.ptp(times), np.diff(values) / values.max()
    along = np.concatenate([[0.0], np.cumsum(np.hypot(across, up))])
    even = np.interp(np.linspace(0, along[-1], POINTS), along, np.arange(along.size))
    chosen = np.unique(np.concatenate([np.rint(even).astype(int), [np.argmax(values)]]))
    return times[chosen], values[chosen]


def _coarse_band(itinerary: Itinerary) -> Band:
    lanes = len(itinerary.lanes)
    passages = [(part, stream.over(lanes)) for part, stream in itinerary.passages]
    return pass_through(passages, itinerary.resolution.coarser())[0][-1]


def apart(result: Result, rough: Band) -> float:
    """As of ``curve_errors``; ``rough``: the band recorded in the run half as fine."""
    band = band_of(result)
    there = sample(rough, band.times) - band.values
    distance = np.linalg.norm(there) / np.linalg.norm(band.values)
    gain = ORDER_GAIN if distance < EDGE else 1.0
    return float(np.abs(there).max() / band.values.max() / gain)
