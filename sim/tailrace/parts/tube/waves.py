"""A band as damped waves, and back: how ``fields.py`` and ``bent/fields.py`` go through time.

Back to time the transform is summed on a line right of the imaginary axis (Dubner and Abate,
J. ACM 15 (1968) 115; from memory). What has not happened yet does not matter then, and the period
need only span the moments that are asked for, not the tube's long tail. An edge in the band that
enters is blurred over about two of the band's steps, so that it does not ring.
"""

from dataclasses import dataclass

import numpy as np

from tailrace.errors import BudgetError
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.band import Band

SPARE = 1.5
"""Period over the time that is asked for. Only so much of the damping need be undone: rounding, and
where a band's tail is cut, grow ten-thousandfold, not a millionfold."""
LEAK = np.log(1e10)
"""What the highest frequency is damped by. It would be seen before the band has come, and there, at
the end of the period before, the damping is undone."""
EDGED = 0.01
"""Highest frequency times its component, over the highest value: above it the band has edges."""
MOST_FREQUENCIES = 20_000


@dataclass(frozen=True)
class Waves:
    """The band's transform: from ``start`` (s), in steps of ``step`` (s), damped by ``damp`` (1/s).

    ``weights`` (frequencies,) with exp(rates t) sum up, by their real parts, to the band at t after
    the start; of ``full`` frequencies those are left out that hold nothing. ``height`` is the
    band's largest value, ``area`` its amount; ``damping`` (1) over one period.
    """

    start: float
    step: float
    damp: float
    full: int
    rates: ComplexArray
    weights: ComplexArray
    height: float
    area: float
    damping: float

    def back(self, times: FloatArray, some: slice = slice(None)) -> ComplexArray:
        """What takes some of the frequencies back to moments: (times, frequencies) array."""
        since = np.maximum(times - self.start, 0.0)
        return np.asarray(np.exp(np.outer(since, self.rates[some])) * self.weights[some])

    def amount(self, passed: ComplexArray | float, times: FloatArray) -> FloatArray:
        """What of the band times a factor has come by some moments. (times,) array, 1."""
        # of what comes during the next periods, all shows through by the damping
        found = (self.back(times) @ (passed / self.rates)).real - self.area / np.expm1(self.damping)
        return np.where(times > self.start, found, 0.0)

    def signal(self, passed: ComplexArray, late: float) -> Band:
        """The band times a factor at each frequency, on the band's own grid up to ``late`` (s)."""
        count = 2 * (self.full - 1)
        halves = np.zeros(self.full, complex)
        halves[: passed.size] = self.weights * passed * (count / 2)
        halves[0] *= 2
        length = max(1, min(count, int(np.ceil((late - self.start) / self.step)) + 1))
        damped = np.fft.irfft(halves, count)[:length]
        values = damped * np.exp(self.damp * self.step * np.arange(length))
        return Band(values[None], np.array([self.start]), np.array([self.step]))


def transformed(band: Band, late: float, name: str, damping: float) -> Waves:
    """Take the transform of a band, over a period that holds it whole and lasts until ``late``."""
    step, values = float(band.step[0]), band.values[0]
    lead = 16  # steps that a blurred edge may reach back
    start = float(band.start[0]) - lead * step
    span = max(late - start, (values.size + 2 * lead) * step) / step
    full = int(np.ceil(max(SPARE * span, span + 8 * lead) / 2)) + 1
    if full > MOST_FREQUENCIES:
        raise BudgetError(
            f"{name}: {full} frequencies would be needed, more than {MOST_FREQUENCIES}: the band "
            "that enters is too brief against the times asked for; ask for earlier ones"
        )
    count = 2 * (full - 1)
    damp = damping / (count * step)
    padded = np.zeros(count)
    padded[lead : lead + values.size] = values
    padded *= np.exp(-damp * step * np.arange(count))
    transform = np.fft.rfft(padded) * step
    omega = 2 * np.pi * np.fft.rfftfreq(count, step)
    rates = damp + 1j * omega
    upper = slice(full // 2, None)
    edged = np.max(np.abs(transform[upper]) * omega[upper]) > EDGED * values.max()
    # Second order is a Gaussian and makes no waves of its own; eighth leaves smooth bands alone.
    order = 2 if edged else 8
    transform *= np.exp(-LEAK * (rates / (1j * omega[-1])) ** order)
    size, area = np.abs(transform), float(values.sum() * step)
    needed = np.flatnonzero(size > 1e-13 * size.max())[-1] + 1
    weights = transform[:needed] * 2 / (count * step)
    weights[0] /= 2
    highest, slowest = float(values.max()), np.asarray(rates[:needed], complex)
    return Waves(start, step, damp, full, slowest, weights, highest, area, damping)
