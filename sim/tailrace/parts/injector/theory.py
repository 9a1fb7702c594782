"""Closed form of the injected band."""

from typing import TypeAlias

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.injector.part import Injector
from tailrace.parts.injector.points import Points
from tailrace.quantities.arrays import Number
from tailrace.signals.cumulants import Cumulants

Moments: TypeAlias = tuple[Number, Number, Number]
"""First, second and third raw moment in time: s, s^2, s^3."""


def theory(injector: Injector, stream: Stream) -> Cumulants:
    """Cumulants of the injected band, about the start of the injection.

    Plug of duration a: a/2, a^2/12, 0 (Sternberg, Adv. Chromatogr. 2 (1966) 205). Washout: the
    plug and an exponential tail of time constant w behind it, as a mixture in the ratio a : w.
    Gaussian: 0, sigma^2, 0. Signal: sums over the points.
    """
    raw = _RAW_MOMENTS[injector.shape](injector, stream)
    mean, second, third = (np.broadcast_to(moment, (stream.lanes,)) for moment in raw)
    variance = second - mean**2
    return Cumulants(
        mean=mean,
        gaussian_variance=variance,
        variance=variance,
        third=third - 3 * mean * second + 2 * mean**3,
    )


def _plug(injector: Injector, stream: Stream) -> Moments:
    a = injector.duration(stream)
    return a / 2, a**2 / 3, a**3 / 4


def _washout(injector: Injector, stream: Stream) -> Moments:
    a = injector.duration(stream)
    w = injector.washout_volume / np.asarray(stream.flow_rate, dtype=float)
    tail = (a + w, a**2 + 2 * a * w + 2 * w**2, a**3 + 3 * a**2 * w + 6 * a * w**2 + 6 * w**3)
    plug = _plug(injector, stream)
    first, second, third = ((a * p + w * t) / (a + w) for p, t in zip(plug, tail, strict=True))
    return first, second, third


def _gaussian(injector: Injector, stream: Stream) -> Moments:
    variance = np.square(injector.sigma)
    return 0.0 * variance, variance, 0.0 * variance


def _signal(injector: Injector, stream: Stream) -> Moments:
    mean, variance, third = Points(*injector.curve).moments
    return mean, variance + mean**2, third + 3 * mean * variance + mean**3


_RAW_MOMENTS = {"plug": _plug, "washout": _washout, "gaussian": _gaussian, "signal": _signal}
