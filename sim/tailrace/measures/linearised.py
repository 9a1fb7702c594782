"""Outlines of peaks whose spectra change a little: exact at the peak, to first order beside it.

A peak is the sum of its frequencies, so its slopes in time need no samples. Where it is highest and
where it falls to a fraction of that are implicit functions of whatever changes it: with g(t, x)
the apex moves by -g_tx / g_tt, and a flank at a fraction f by (f h_x - g_x) / g_t.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeAlias

import numpy as np

from tailrace.measures.outlines import Outlines
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.band import Band

STEPS, CLOSE = 20, 1e-13
"""Of Newton's method from what the outline of samples says; and relative to the time."""

Moved: TypeAlias = tuple[FloatArray, FloatArray]
"""A number of each lane, (lanes,) array, and its slopes with every input, (inputs, lanes) array."""


@dataclass(frozen=True, eq=False)
class Wave:
    """Peaks as sums of frequencies, and how these change with each of several inputs.

    Parameters
    ----------
    omega : (lanes, frequencies) array, rad/s
        Even, from 0 on.
    spectrum : (lanes, frequencies) complex array, 1
    slopes : (inputs, lanes, frequencies) complex array, 1 over the unit of each input
    outlines : Outlines
        Of samples, from which apex and flanks are looked for.
    """

    omega: FloatArray
    spectrum: ComplexArray
    slopes: ComplexArray
    outlines: Outlines

    def _at(self, times: FloatArray, order: int) -> Moved:
        """The curve's derivative of some order in time, at (lanes,) times, and its slopes."""
        scale = self.omega[:, 1] / np.pi
        turns = (1j * self.omega) ** order * np.exp(1j * self.omega * times[:, None])
        turns[:, 0] /= 2
        return (
            scale * np.sum(self.spectrum * turns, axis=-1).real,
            scale * np.sum(self.slopes * turns, axis=-1).real,
        )

    def _solved(self, start: FloatArray, order: int, level: FloatArray | float) -> FloatArray:
        """Times near some at which a derivative has a value."""
        times = start
        for _ in range(STEPS):
            step = (self._at(times, order)[0] - level) / self._at(times, order + 1)[0]
            times = times - step
            if not np.any(np.abs(step) > CLOSE * np.abs(times)):
                break
        return times

    @cached_property
    def apex(self) -> Moved:
        """Times of the maxima, s."""
        at = self._solved(self.outlines.apex, 1, 0.0)
        return at, -self._at(at, 1)[1] / self._at(at, 2)[0]

    @cached_property
    def height(self) -> Moved:
        """Of the maxima, 1/s."""
        return self._at(self.apex[0], 0)

    def flanks(self, fraction: float) -> tuple[Moved, Moved]:
        """Times in front of the maxima and behind at a fraction of the height, s."""
        level, rise = (fraction * one for one in self.height)
        front, apex, tail = self.outlines.flanks(fraction)
        found = []
        for side in (front, tail):
            at = self._solved(side + self.outlines.apex - apex, 0, level)
            found.append((at, (rise - self._at(at, 0)[1]) / self._at(at, 1)[0]))
        return found[0], found[1]

    @cached_property
    def feet(self) -> Moved:
        """Distance of the feet of the tangents at the inflection points, s."""
        found = []
        for turn in self.outlines.turns:
            at = self._solved(turn, 2, 0.0)
            (value, moved), (slope, turned) = self._at(at, 0), self._at(at, 1)
            found.append((at - value / slope, -moved / slope + value * turned / slope**2))
        (front, moved_front), (tail, moved_tail) = found
        return tail - front, moved_tail - moved_front


@dataclass(frozen=True, eq=False)
class Linearised(Outlines):
    """The outlines of peaks that follow a wave when inputs are changed a little.

    ``shifted`` lays a number and its slopes out for all of its lanes.
    """

    wave: Wave = field(kw_only=True)
    shifted: Callable[[Moved], FloatArray] = field(kw_only=True)

    @property
    def apex(self) -> FloatArray:
        """Time of the maximum. (lanes,) array, s."""
        return self.shifted(self.wave.apex)

    @property
    def height(self) -> FloatArray:
        """Of the maximum. (lanes,) array, 1/s."""
        return self.shifted(self.wave.height)

    def flanks(self, fraction: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Times of front, apex and tail at a fraction of the height. Three (lanes,) arrays, s."""
        front, tail = self.wave.flanks(fraction)
        return self.shifted(front), self.apex, self.shifted(tail)

    @property
    def feet(self) -> FloatArray:
        """Distance of the feet of the tangents. (lanes,) array, s."""
        return self.shifted(self.wave.feet)


def linearised(wave: Wave, lanes: int, shifted: Callable[[Moved], FloatArray]) -> Linearised:
    """The outlines of ``lanes`` peaks that follow a wave."""
    nowhere = Band(np.zeros((lanes, 1)), np.zeros(lanes), np.ones(lanes))
    return Linearised(nowhere, wave=wave, shifted=shifted)
