"""How the detector writes a signal down: filter, then points."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.errors import BudgetError
from tailrace.parts.detector.part import Detector
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample
from tailrace.signals.resolution import Resolution
from tailrace.signals.response import convolved, through_tanks, uniform_weights

MOST_POINTS = 5_000_000


def march(detector: Detector, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Filter a signal; ``recorded`` then takes the points. Detector, Stream, Band in, Band out.

    The filter is a first-order one, exact for the cubic that joins the samples; a mean is over the
    time before each moment.
    """
    if np.any(np.asarray(detector.time_constant) > 0):
        band = through_tanks(band, detector.time_constant, 1.0, resolution.truncation)
    width = np.broadcast_to(np.asarray(detector.averaging, dtype=float), (band.lanes,))
    if np.any(width > 0):
        # a lane without a mean has one over next to nothing
        width = np.maximum(width, 1e-9 * band.step)
        band = convolved(band, *uniform_weights(np.zeros(band.lanes), width, band.step))
    return band


def recorded(detector: Detector, band: Band) -> Band:
    """The filtered signal at multiples of the interval since the injection, its phase added.

    The band itself where the detector has no interval. Raises BudgetError if the signal would take
    more than MOST_POINTS points: use a longer interval.
    """
    interval = np.broadcast_to(np.asarray(detector.interval, float), (band.lanes,))
    if np.isnan(interval).any():
        return band
    phase = np.broadcast_to(np.asarray(detector.sampling_phase, float), (band.lanes,))
    first = np.ceil(band.start / interval - phase) + phase
    end = (band.start + band.step * (band.values.shape[1] - 1)) / interval
    last = np.floor(end - phase) + phase
    count = int(np.max(last - first)) + 1
    if count > MOST_POINTS:
        raise BudgetError(
            f"{detector.name}.interval: at {interval.min():.3g} s the signal takes {count} points, "
            f"more than {MOST_POINTS}: use a longer interval"
        )
    times = interval[:, None] * (first[:, None] + np.arange(max(count, 1)))
    return Band(sample(band, times), first * interval, interval.copy(), curve=band)
