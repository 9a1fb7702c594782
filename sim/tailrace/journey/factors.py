"""A product of transfer functions in place of a path that is none, and what it lacks.

Of a path with bends, a gradient, a sample's own solvent or an overloaded column many journeys that
differ a little are asked for where one takes seconds. Each part has a factor that stands in for it
(``Part.as_factor``); what is computed of the path as it is, over what the factors make of it, is
taken along in frequency. So a change of a part that is a factor itself shows as it would on the
path, and one of a part that is stood in for to first order.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.fft import irfft, rfft, rfftfreq

from tailrace.eluent.stream import Stream
from tailrace.journey.windows import quick
from tailrace.measures import moments
from tailrace.parts import KINDS
from tailrace.parts.base import Part, Passage, Passages
from tailrace.quantities.arrays import ComplexArray, FloatArray, Number
from tailrace.signals.band import Band

SEEN = 3e-4
"""Of the spectrum at rest: what passes less is not looked at for what factors lack."""
FREQUENCIES, HIGHEST = 200, 20.0
"""At which it is, and the last of them in 1 / standard deviation of the band."""


def as_factors(passages: Sequence[Passage]) -> list[Passage]:
    """Every part as a factor. A column that focuses passes on what enters it in less time: what
    lies before runs as much faster, which makes of its own width what the column makes of it."""
    found = list[Passage]()
    for part, stream in passages:
        if part.focuses:
            mean, entered = _sums(found)
            part = part.met_at(mean, stream)
            root = np.sqrt(np.asarray(part.variance_passed(stream, entered), dtype=float))
            root = root if np.ndim(stream.diffusivity) else root[0]
            found = [_slower(one, to, root) for one, to in found]
            found.append(factor_of(part, stream, mean - _sums(found)[0]))
        else:
            found.append(factor_of(part, stream))
    return found


def factor_of(part: Part, stream: Stream, later: Number = 0.0) -> Passage:
    """A part, met at time zero, as a factor; a column that focuses holds a band so much longer."""
    if not part.focuses:
        return part.as_factor(stream)
    cumulants = KINDS[part.kind].theory(part, stream.over(stream.lanes))
    numbers = cumulants.mean + later, cumulants.gaussian_variance
    return part.as_factor(
        stream, *(one if np.ndim(stream.diffusivity) else one[0] for one in numbers)
    )


def _sums(passages: Passages) -> tuple[FloatArray, FloatArray]:
    cumulants = [
        KINDS[part.kind].theory(part, stream.over(stream.lanes))
        for part, stream in passages
        if not part.behind
    ]
    mean = np.sum([np.asarray(one.mean) for one in cumulants], axis=0)
    return np.atleast_1d(mean), np.atleast_1d(np.sum([one.variance for one in cumulants], axis=0))


def _slower(part: Part, stream: Stream, times: FloatArray) -> Passage:
    built = replace(
        stream, flow_rate=stream.flow_rate / times, diffusivity=stream.diffusivity / times
    )
    return part.slower(times), built


@dataclass(frozen=True, kw_only=True, eq=False)
class Lacking:
    """What a stand-in lacks: the spectrum that is computed over its own.

    Parameters
    ----------
    omega : (frequencies,) array, rad/s
    logarithm : (frequencies,) complex array, 1
        Of the ratio, in time from the mean of either.
    later : float, s
        Mean of what is computed less that of the stand-in.
    """

    omega: FloatArray
    logarithm: ComplexArray
    later: float

    @classmethod
    def between(cls, computed: Band, stand_in: Band) -> "Lacking":
        """Of bands of one lane each."""
        bands = computed, stand_in
        means = [float(moments(one).mean[0]) for one in bands]
        width = np.sqrt(min(float(moments(one).variance[0]) for one in bands))
        omega = HIGHEST / width * np.linspace(0, 1, FREQUENCIES)
        found = np.array([_spectrum(*each, omega) for each in zip(bands, means, strict=True)])
        seen = np.abs(found).min(axis=0) > SEEN
        last = int(np.argmin(seen)) if not seen.all() else omega.size
        logarithm = np.log(np.abs(found)) + 1j * np.unwrap(np.angle(found), axis=1)
        return cls(
            omega=omega[:last],
            logarithm=(logarithm[0] - logarithm[1])[:last],
            later=means[0] - means[1],
        )

    def brought(self, band: Band) -> Band:
        """The band of a stand-in with what it lacks; of every lane."""
        from scipy.interpolate import CubicSpline

        count = band.values.shape[1]
        samples = quick(2 * count)
        before = (samples - count) // 2
        omega = 2 * np.pi * rfftfreq(samples) / band.step[:, None]
        curve = CubicSpline(self.omega, self.logarithm)
        ratio = np.exp(curve(np.minimum(omega, self.omega[-1])))
        padded = np.pad(band.values, ((0, 0), (before, samples - count - before)))
        values = irfft(rfft(padded, axis=1) * ratio, samples, axis=1)
        return replace(band, values=values, start=band.start + self.later - before * band.step)


def _spectrum(band: Band, mean: float, omega: FloatArray) -> ComplexArray:
    times = band.start[0] + band.step[0] * np.arange(band.values.shape[1]) - mean
    return np.asarray(np.exp(-1j * np.outer(omega, times)) @ band.values[0] * band.step[0])
