"""The spectrum of the injected band."""

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.fft import next_fast_len, rfft, rfftfreq

from tailrace.eluent.stream import Stream
from tailrace.parts.injector.part import Injector
from tailrace.parts.injector.points import Points
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.spectra import by_lane, even, tanks

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

STEPS = 8
"""Of the sum over the curve of a signal, to its shortest gap between points."""
DENSE = 32
"""Frequencies at which its spectrum is computed, over those that the curve's length asks for."""


def transfer(injector: Injector, stream: Stream, omega: FloatArray) -> ComplexArray:
    """Of a band of area one, from the start of the injection.

    Parameters
    ----------
    omega : (lanes, frequencies) array, rad/s

    Returns
    -------
    (lanes, frequencies) complex array, 1
    """
    return _SPECTRUM[injector.shape](injector, stream, omega)


def _plug(injector: Injector, stream: Stream, omega: FloatArray) -> ComplexArray:
    return even(omega, injector.duration(stream))


def _washout(injector: Injector, stream: Stream, omega: FloatArray) -> ComplexArray:
    plug, constant = injector.duration(stream), injector.washout_volume / stream.flow_rate
    tail = tanks(omega, constant, 1.0) * np.exp(-1j * omega * by_lane(plug))
    share = by_lane(plug / (plug + constant))
    return np.asarray(share * even(omega, plug) + (1 - share) * tail)


def _gaussian(injector: Injector, stream: Stream, omega: FloatArray) -> ComplexArray:
    return np.exp(-0.5 * np.square(omega * by_lane(injector.sigma))).astype(complex)


def _signal(injector: Injector, stream: Stream, omega: FloatArray) -> ComplexArray:
    spectrum, mean = _measured(*(one.tobytes() for one in injector.curve))
    inside = np.minimum(omega, spectrum.x[-1])
    found = np.where(omega <= spectrum.x[-1], spectrum(inside), 0.0)
    return np.asarray(found * np.exp(-1j * omega * mean))


@lru_cache(maxsize=8)
def _measured(times: bytes, heights: bytes) -> "tuple[CubicSpline, float]":
    """Spectrum of the curve through the points, in time from their mean; and the mean, s."""
    from scipy.interpolate import CubicSpline

    points = Points(np.frombuffer(times), np.frombuffer(heights))
    curve, mean = points.joined(), points.moments[0]
    step = float(np.min(np.diff(points.times))) / STEPS
    at = np.arange(curve.x[0], curve.x[-1], step)
    amounts = points.matched(at, curve(at))
    count = next_fast_len(DENSE * at.size, real=True)
    omega = 2 * np.pi * rfftfreq(count, step)
    turned = rfft(amounts, count) * np.exp(-1j * omega * (at[0] - mean))
    return CubicSpline(omega, turned), mean


_SPECTRUM = {"plug": _plug, "washout": _washout, "gaussian": _gaussian, "signal": _signal}
