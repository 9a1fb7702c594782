"""How the injected band is written on a grid."""

import numpy as np
from scipy.special import erfcinv

from tailrace.eluent.stream import Stream
from tailrace.parts.injector.part import Injector
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.signals.cubic import spread
from tailrace.signals.resolution import Resolution
from tailrace.signals.response import convolved, passed, uniform_weights

GAUSS_NODES, GAUSS_WEIGHTS = np.polynomial.legendre.leggauss(4)


def march(injector: Injector, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Write the injected band on the grid of ``band``, a unit pulse at time zero.

    What is written is of area one and has the exact mean, variance and third moment.
    """
    return _WRITE[injector.shape](injector, stream, band, resolution.truncation)


def _plug(injector: Injector, stream: Stream, band: Band, truncation: float) -> Band:
    duration = np.broadcast_to(injector.duration(stream), (band.lanes,))
    return convolved(band, *uniform_weights(np.zeros(band.lanes), duration, band.step))


def _washout(injector: Injector, stream: Stream, band: Band, truncation: float) -> Band:
    duration = np.broadcast_to(injector.duration(stream), (band.lanes,))
    constant = injector.washout_volume / np.asarray(stream.flow_rate, dtype=float)
    constant = np.broadcast_to(constant, (band.lanes,))
    plug = _plug(injector, stream, band, truncation)

    def tail(times: FloatArray) -> FloatArray:
        return np.exp(-(times - duration[:, None]) / constant[:, None]) / constant[:, None]

    tail_band = passed(band, tail, duration, duration - constant * np.log(truncation), constant)
    share = (duration / (duration + constant))[:, None]
    return _sum(plug, share, tail_band, 1 - share)


def _sum(one: Band, share_one: FloatArray, other: Band, share_other: FloatArray) -> Band:
    """Weighted sum of two bands on the same grid."""
    first = np.minimum(one.start, other.start)
    index = [np.rint((band.start - first) / band.step).astype(int) for band in (one, other)]
    count = max(
        int(i.max()) + band.values.shape[1] for i, band in zip(index, (one, other), strict=True)
    )
    values = np.zeros((one.lanes, count))
    for band, at, share in zip((one, other), index, (share_one, share_other), strict=True):
        for lane in range(band.lanes):
            values[lane, at[lane] : at[lane] + band.values.shape[1]] += (
                share[lane] * band.values[lane]
            )
    return Band(values, first, one.step)


def _gaussian(injector: Injector, stream: Stream, band: Band, truncation: float) -> Band:
    sigma = np.broadcast_to(np.asarray(injector.sigma, float), (band.lanes,))
    reach = sigma * np.sqrt(2) * erfcinv(2 * truncation)

    def density(times: FloatArray) -> FloatArray:
        reduced = times / sigma[:, None]
        return np.asarray(np.exp(-(reduced**2) / 2) / (sigma[:, None] * np.sqrt(2 * np.pi)))

    return passed(band, density, -reach, reach, sigma)


def _signal(injector: Injector, stream: Stream, band: Band, truncation: float) -> Band:
    times, heights = injector.curve
    span = np.diff(times)[:, None]
    fraction = (GAUSS_NODES + 1) / 2
    pieces = int(np.ceil((span / band.step.min()).max()))
    inner = ((np.arange(pieces)[:, None] + fraction) / pieces).ravel()
    at = (times[:-1, None] + span * inner).ravel()
    weight = np.tile(GAUSS_WEIGHTS, pieces) / (2 * pieces)
    height = heights[:-1, None] + np.diff(heights)[:, None] * inner
    amounts = (span * height * weight).ravel()
    amounts = amounts / amounts.sum()
    positions = at[None, :] / band.step[:, None]
    first = np.floor(positions.min(axis=1)) - 1
    positions = positions - first[:, None]
    count = int(positions.max()) + 4
    weights = spread(positions, np.broadcast_to(amounts, positions.shape), count)
    return convolved(band, weights, first)


_WRITE = {"plug": _plug, "washout": _washout, "gaussian": _gaussian, "signal": _signal}
