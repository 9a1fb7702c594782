"""Keeping a band on no more samples than it needs."""

import numpy as np

from tailrace.quantities.arrays import BoolArray, FloatArray
from tailrace.signals.band import Band
from tailrace.signals.cubic import aligned, doubled, halved, padded

EVEN = 1.5
"""Largest over L2 distance, each relative: 1 to 1.2 where a smooth band is decimated."""
LARGE = 8_000_000
"""Samples over all lanes from which on these are looked at one by one, lest they take gigabytes."""


def _large(band: Band) -> bool:
    return band.lanes > 1 and band.values.size > LARGE


def trimmed(band: Band, truncation: float) -> tuple[Band, FloatArray]:
    """Drop both ends of a band that hold next to nothing.

    Parameters
    ----------
    truncation : float, 1
        At most this share of the amount is dropped at each end: all of its first half, ever less of
        the second, so that it matters to no digit which sample is the last.

    Returns
    -------
    band : Band
    lost : (lanes,) array, 1
        The amount dropped, over the amount injected.
    """
    if _large(band):
        bands, lost = zip(*(trimmed(one, truncation) for one in band.each), strict=True)
        return Band.joined(bands), np.concatenate(lost)
    magnitude = _evened(band.values)
    np.abs(magnitude, out=magnitude)
    most = truncation / 2 * magnitude.sum(axis=1, keepdims=True)
    rising = np.cumsum(magnitude, axis=1)
    falling = np.cumsum(magnitude[:, ::-1], axis=1)[:, ::-1]
    kept = np.minimum(rising, falling, out=magnitude)
    kept -= most
    keep = kept > 0
    count = band.values.shape[1]
    first = np.argmax(keep, axis=1)
    last = count - 1 - np.argmax(keep[:, ::-1], axis=1)
    length = int(np.max(last - first)) + 1
    index = first[:, None] + np.arange(length)
    kept /= np.where(most > 0, most, 1.0)
    np.clip(kept, 0.0, 1.0, out=kept)
    kept *= band.values
    values = np.take_along_axis(kept, np.minimum(index, count - 1), axis=1)
    values = np.where(index <= last[:, None], values, 0.0)
    trimmed_band = Band(values, band.start + first * band.step, band.step)
    return trimmed_band, band.area - trimmed_band.area


def _evened(values: FloatArray) -> FloatArray:
    """Sums over four steps, without what alternates from a sample to the next, or every other.

    The trapezoidal rule of a march, made on two grids, does not damp that: rounding leaves some of
    it behind a peak, unlike on each processor, and in magnitude it would add up.
    """
    wide = padded(values, 2, 2)
    pairs = wide[:, :-1] + wide[:, 1:]
    fours = pairs[:, :-2]
    fours += pairs[:, 2:]
    return np.asarray(fours[:, :-1] + fours[:, 1:])


def decimated(band: Band, tolerance: float, cusps: bool = False) -> Band:
    """Double the step of each lane as often as its shape allows; a band with edges stays.

    Parameters
    ----------
    tolerance : float, 1
        A lane is decimated while the L2 distance between its samples and what every other of
        them would say of them stays below this share of its L2 norm.
    cusps : bool
        Keep them: where one sample is far more off than the whole, it counts, over the height.
    """
    if _large(band) and band.jumps is None:
        return Band.joined([decimated(one, tolerance, cusps) for one in band.each])
    while band.values.shape[1] > 16 and band.jumps is None:
        coarse = halved(band)
        back = doubled(coarse)
        rebuilt = aligned(back, band.start, band.values.shape[1])
        error = np.linalg.norm(rebuilt.values - band.values, axis=1)
        size = np.linalg.norm(band.values, axis=1)
        accept = (error <= tolerance * size) & (size > 0)
        if cusps and accept.any():
            apart = np.abs(rebuilt.values - band.values).max(axis=1)
            height = np.abs(band.values).max(axis=1)
            accept &= apart <= height * np.maximum(tolerance, EVEN * error / size)
        if not accept.any():
            return band
        band = _chosen(accept, coarse, band)
    return band


def _chosen(accept: BoolArray, coarse: Band, fine: Band) -> Band:
    """Lanes of ``coarse`` where accepted, of ``fine`` elsewhere."""
    if accept.all():
        return coarse
    short = coarse.values.shape[1]
    values = fine.values.copy()
    values[accept] = 0.0
    values[accept, :short] = coarse.values[accept]
    # zeros that no lane needs any more would fill up with rounding in the next part
    count = values.shape[1] - int(np.argmax((values != 0).any(axis=0)[::-1]))
    return Band(
        values[:, :count],
        np.where(accept, coarse.start, fine.start),
        np.where(accept, coarse.step, fine.step),
    )
