"""Transfer functions that several parts have in common.

H(omega) is the integral of the response to a unit pulse times exp(-i omega t); (lanes, frequencies)
arrays of omega in rad/s in, complex arrays out.
"""

import numpy as np

from tailrace.quantities.arrays import ComplexArray, FloatArray, Number


def by_lane(value: Number) -> FloatArray:
    """A scalar or (lanes,) array beside (lanes, frequencies) ones."""
    return np.asarray(value, dtype=float)[..., None]


def tanks(omega: FloatArray, residence: Number, number: float) -> ComplexArray:
    """(1 + i omega T/n)^-n of n equal stirred tanks with total residence T, s."""
    one = 1 / (1 + 1j * omega * by_lane(np.asarray(residence) / number))
    return np.asarray(one ** (int(number) if float(number).is_integer() else number))


def mean_of_tanks(omega: FloatArray, residence: Number, number: int) -> ComplexArray:
    """Of the mean over n equal stirred tanks with total residence T, s."""
    one = 1 / (1 + 1j * omega * by_lane(np.asarray(residence) / number))
    total = power = one
    for _ in range(number - 1):
        power = power * one
        total = total + power
    return np.asarray(total / number)


def even(omega: FloatArray, duration: Number) -> ComplexArray:
    """Of a response that is even from 0 to ``duration``, s, and zero elsewhere."""
    half = omega * by_lane(duration) / 2
    return np.asarray(np.sinc(half / np.pi) * np.exp(-1j * half))
