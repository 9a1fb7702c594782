"""Journeys side by side on the threads of this machine, and their signals as points to draw."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np

from tailrace.journey import travel
from tailrace.journey.discretisation import EDGE, ORDER_GAIN
from tailrace.journey.propagation import pass_through
from tailrace.signals.cubic import sample
from tailrace.threads import thread_count

POINTS = 300
"""Of one curve, as evenly along its line as its samples allow."""


def travelled(itineraries):
    """Make journeys, each by itself; how many threads share them changes nothing.

    As lanes of one journey, an early peak and a late one would share the finest grid and the
    longest time.

    Parameters
    ----------
    itineraries : sequence of Itinerary

    Returns
    -------
    list of Result
    """
    return _shared(travel, itineraries)


def figures_of(results, group, name):
    """One figure of many results with one lane each.

    Parameters
    ----------
    results : sequence of Result
    group : str
        ``recorded``, ``column_alone`` or ``numerical_error``.
    name : str

    Returns
    -------
    (results,) array, in the unit of the figure
    """
    return np.array([getattr(one, group)[name][0] for one in results])


def curve_errors(itineraries, results):
    """How far signals may be from the converged ones, from a second run half as fine.

    Parameters
    ----------
    itineraries : sequence of Itinerary
        With one lane each.
    results : sequence of Result

    Returns
    -------
    list of float, 1
        Largest distance of the two signals over the height, by the same gain as
        ``tailrace.journey.travelling`` uses.
    """
    coarse = _shared(_coarse_band, itineraries)
    pairs = zip(results, coarse, strict=True)
    return [_apart(result.recorded_band, rough) for result, rough in pairs]


def points_of(band, least, latest=np.inf):
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


def _shared(work, items):
    pool = ThreadPoolExecutor(thread_count())
    try:
        return list(pool.map(work, items))
    finally:
        pool.shutdown(cancel_futures=True)


def _coarse_band(itinerary):
    lanes = len(itinerary.lanes)
    passages = [(part, stream.over(lanes)) for part, stream in itinerary.passages]
    return pass_through(passages, itinerary.resolution.coarser())[0][-1]


def _apart(band, rough):
    there = sample(rough, band.times) - band.values
    distance = np.linalg.norm(there) / np.linalg.norm(band.values)
    gain = ORDER_GAIN if distance < EDGE else 1.0
    return float(np.abs(there).max() / band.values.max() / gain)
