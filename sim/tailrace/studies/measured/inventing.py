"""Invented measurements: simulated signals with delay, scale, noise and drift, from a seed."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tailrace.measurements.noise import Noise
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample


@dataclass(frozen=True, kw_only=True)
class Invention:
    """What is done to a simulated signal.

    Parameters
    ----------
    signal_to_noise : float, 1
        Height over the standard deviation of the noise.
    delay : float, s
    interval : float, s
        Between points.
    height : float, unit of the signal
    correlation : float, 1
        Of the noise of neighbours.
    drift : float, unit of the signal/s
    before, behind : float, 1
        Blank stretches, over the length of the band.
    """

    signal_to_noise: float = 500.0
    delay: float = 1.0
    interval: float = 0.1
    height: float = 100.0
    correlation: float = 0.0
    drift: float = 0.0
    before: float = 1.0
    behind: float = 1.5


def invented(band: Band, how: Invention, seed: Sequence[int]) -> tuple[FloatArray, FloatArray]:
    """Times (s) and values of an invented measurement of one lane; the same for the same seed."""
    length = float(band.step[0] * band.values.shape[1])
    first = float(band.start[0]) + how.delay - how.before * length
    start = max(0.0, np.floor(first / how.interval) * how.interval)
    end = float(band.start[0]) + how.delay + (1 + how.behind) * length
    times = start + how.interval * np.arange(int((end - start) / how.interval) + 1)
    values = sample(band, (times - how.delay)[None])[0]
    values *= how.height / values.max()
    noise = Noise(
        deviation=how.height / how.signal_to_noise, correlation=how.correlation, peak_to_peak=0.0
    )
    drawn = noise.drawn((1, times.size), np.random.default_rng(list(seed)))[0]
    return times, np.asarray(values + drawn + how.drift * (times - times[0]))


def width_of(band: Band) -> float:
    """Standard deviation of a band of one lane, s."""
    weights = band.values[0] / band.values[0].sum()
    places = band.step[0] * np.arange(weights.size)
    return float(np.sqrt(weights @ (places - weights @ places) ** 2))


def csv_of(times: FloatArray, values: FloatArray) -> bytes:
    """A file as a data system exports it."""
    rows = (f"{one:.6f},{other:.6f}" for one, other in zip(times, values, strict=True))
    return "\n".join(["time (s),signal (mAU)", *rows, ""]).encode()
