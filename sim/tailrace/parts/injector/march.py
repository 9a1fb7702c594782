"""How the injected band is written on a grid."""

from dataclasses import replace

import numpy as np
from scipy.special import erfcinv

from tailrace.eluent.stream import Stream
from tailrace.parts.injector.part import Injector
from tailrace.parts.injector.points import Points
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band, Jumps
from tailrace.signals.cubic import spread
from tailrace.signals.resolution import Resolution
from tailrace.signals.response import convolved, passed, uniform_weights

NEAR = 1e-9
"""Of its place: how exactly an edge falls on a sample."""


def march(injector: Injector, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Write the injected band on the grid of ``band``, a unit pulse at time zero.

    What is written is of area one and has the exact mean, variance and third moment.
    """
    return _WRITE[injector.shape](injector, stream, band, resolution.truncation)


def _plug(injector: Injector, stream: Stream, band: Band, truncation: float) -> Band:
    duration = np.broadcast_to(injector.duration(stream), (band.lanes,))
    written = convolved(band, *uniform_weights(np.zeros(band.lanes), duration, band.step))
    at = np.stack([np.zeros(band.lanes), duration], axis=1)
    return replace(written, jumps=_on_samples(at, np.array([1, -1]) / duration[:, None], band.step))


def _on_samples(at: FloatArray, by: FloatArray, step: FloatArray) -> Jumps | None:
    places = at / step[:, None]
    exact = np.abs(places - np.rint(places)) <= NEAR * np.maximum(places, 1.0)
    return Jumps(at, by) if exact.all() else None


def _washout(injector: Injector, stream: Stream, band: Band, truncation: float) -> Band:
    duration = np.broadcast_to(injector.duration(stream), (band.lanes,))
    constant = injector.washout_volume / np.asarray(stream.flow_rate, dtype=float)
    constant = np.broadcast_to(constant, (band.lanes,))
    plug = _plug(injector, stream, band, truncation)

    def tail(times: FloatArray) -> FloatArray:
        return np.exp(-(times - duration[:, None]) / constant[:, None]) / constant[:, None]

    tail_band = passed(band, tail, duration, duration - constant * np.log(truncation), constant)
    share = (duration / (duration + constant))[:, None]
    start = np.zeros((band.lanes, 1))
    jumps = _on_samples(start, 1 / (duration + constant)[:, None], band.step)
    return replace(_sum(plug, share, tail_band, 1 - share), jumps=jumps)


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
    """The spline through the points at samples, or at finer ones that are then shared out."""
    points = Points(*injector.curve)
    curve = points.joined()
    first = np.floor(curve.x[0] / band.step)
    last = np.ceil(curve.x[-1] / band.step)
    weights = np.zeros((band.lanes, int(np.max(last - first)) + 5))
    for lane, step in enumerate(band.step.tolist()):
        finer = int(np.ceil(2 * step / np.median(np.diff(points.times))))
        at = np.arange(1, (last[lane] - first[lane]) * finer) / finer
        amounts = points.matched((first[lane] + at) * step, curve((first[lane] + at) * step))
        weights[lane] = spread(at[None] + 1, amounts[None], weights.shape[1])[0]
    return convolved(band, weights, first - 1)


_WRITE = {"plug": _plug, "washout": _washout, "gaussian": _gaussian, "signal": _signal}
