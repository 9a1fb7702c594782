"""How long a window each lane of a product needs, and which frequencies.

Each part counts as a gamma density with its variance and third cumulant, and Chernoff's bound of
the sum says where less than TAIL of the amount is left. Lanes of which points are recorded have the
interval of the frequencies in common, which is that of the longest window: a solute that leaves
late would cost early ones, of which frequencies go far, many that they do not need.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.fft import next_fast_len

from tailrace.parts.base import Part
from tailrace.quantities.arrays import BoolArray, FloatArray
from tailrace.signals.cumulants import Cumulants

TAIL = 1e-9
"""Of the amount, that may lie outside the window at each end."""
POINTS = 16
"""Samples to a frequency: of a Gaussian 30 to a standard deviation."""
MOST_FREQUENCIES, ENOUGH = 1 << 13, 1 << 10
"""Of one lane in a window of its own; and with more than the second in one that lanes share those
of less than half as long a window go by themselves."""


@dataclass(frozen=True)
class Window:
    """One a lane: its begin s, step s; samples and every how many of them count, of all lanes."""

    start: FloatArray
    step: FloatArray
    samples: int
    every: int = 1


def window_over(
    start: FloatArray, length: FloatArray, highest: FloatArray, recorder: Part | None
) -> Window:
    """Of bands that begin at ``start``, last for ``length``, (lanes,) arrays, s; ``highest``
    frequency of each, rad/s; ``recorder``: a part that may take points, or None."""
    most = np.minimum(highest, 2 * np.pi * MOST_FREQUENCIES / length)
    if recorder is None or not (recorder.records and recorder.by_points):
        samples = quick(POINTS * float(np.max(most * length)) / (2 * np.pi))
        return Window(start, length / samples, samples)
    interval = np.broadcast_to(np.asarray(recorder.interval, dtype=float), start.shape)
    phase = np.broadcast_to(np.asarray(recorder.sampling_phase, dtype=float), start.shape)
    first = np.ceil(start / interval - phase) + phase
    # between the points as many more as the highest frequency asks for
    every = max(int(np.ceil(np.max(interval * most) / np.pi)), 1)
    samples = every * quick(max(float(np.max(length / interval)) + 1, 8.0))
    return Window(first * interval, interval / every, samples, every)


def shorter(window: Window, length: FloatArray, highest: FloatArray) -> BoolArray:
    """Which lanes had better have a window of their own: (lanes,) array; as ``window_over``."""
    whole = window.samples * window.step
    needed = np.minimum(highest, 2 * np.pi * MOST_FREQUENCIES / length) * whole / (2 * np.pi)
    return np.asarray((needed > ENOUGH) & (2 * length < whole) & (length < length.max()))


def frequencies(window: Window, length: FloatArray, highest: FloatArray) -> FloatArray:
    """(lanes, frequencies) array, rad/s, as far as any lane needs; as ``window_over``."""
    whole = window.samples * window.step
    spacing = 2 * np.pi / whole
    most = np.rint(MOST_FREQUENCIES * np.minimum(whole / length, 2))
    each = np.minimum(np.ceil(highest / spacing) + 1, most)
    return np.asarray(spacing[:, None] * np.arange(min(int(each.max()), window.samples // 2 + 1)))


def quick(least: float) -> int:
    """An even number that is not smaller, of which a Fourier transform is quick."""
    return 2 * int(next_fast_len(int(np.ceil(least / 2)), real=True))


def reach_of(cumulants: Sequence[Cumulants], room: float) -> tuple[FloatArray, FloatArray]:
    """How far the window reaches before and behind the mean. Two (lanes,) arrays, s."""
    variances = np.array([one.variance for one in cumulants])
    # the time constant of a gamma density with these two cumulants
    scales = np.array([one.third for one in cumulants]) / (
        2 * np.where(variances > 0, variances, np.inf)
    )
    scales = np.maximum(scales, 0.0)
    limit = -np.log(TAIL)
    gaussian = np.sqrt(variances.sum(axis=0) / (2 * limit))
    before = np.full(gaussian.shape, np.inf)
    after = before.copy()
    for share in (0.25, 0.5, 1.0, 2.0):
        slow = 1 / (share * gaussian)
        before = np.minimum(before, (_growth(variances, scales, -slow) + limit) / slow)
        slow = 1 / (share * gaussian + 1.02 * room * scales.max(axis=0))
        after = np.minimum(after, (_growth(variances, room * scales, slow) + limit) / slow)
    deviation = np.sqrt(variances.sum(axis=0))
    before = np.minimum(room * before + deviation, np.sqrt(2 * limit) * deviation)
    return before, after


def _growth(variances: FloatArray, scales: FloatArray, rate: FloatArray) -> FloatArray:
    """Logarithm of the mean of exp(rate t), t from the mean, of a sum of gamma densities."""
    x = scales * rate
    small = np.abs(x) < 1e-3
    safe = np.where(small, 0.5, x)
    shape = np.where(small, 0.5 + x / 3, (-np.log1p(-safe) - safe) / safe**2)
    return np.asarray((variances * rate**2 * shape).sum(axis=0))
