"""A second, independent way through a tube: spectral in radius and in time.

In frequency the tube is a number: the first entry of exp(-(R + i w (I + W)) X) with the rates R and
the coupling W of the radial modes (``galerkin.py``), X the Fourier number. It is found at Chebyshev
points of arsinh(w), interpolated, and multiplies the Fourier transform of the band. Nothing is
shared with ``march.py``, neither nodes nor steps, nor the samples of an edge, whose transform is
known. Exact to about 1e-7 for a band that its samples resolve; with edges into a very short tube
to about 3e-5.
"""

from itertools import pairwise
from typing import Any, TypeAlias

import numpy as np
from numpy.polynomial import chebyshev
from scipy.fft import next_fast_len

from tailrace.eluent.stream import Stream
from tailrace.errors import AccuracyError
from tailrace.parts.tube.galerkin import radial_modes
from tailrace.parts.tube.part import Tube
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution

Tubes: TypeAlias = list[tuple[float, float]]
TOLERANCE = 3e-8
"""Of the transfer function, relative to the band's largest frequency component."""
MODES = (8, 12, 16, 24, 32, 48, 64, 96, 128)
DEGREES = (32, 64, 128, 256, 512, 1024)
SOME_MODES = 64
LEFT_OUT, SHORT = (0.001, 10.0), 0.02
"""Of TOLERANCE: components below are left out; more of them where they do not settle, as in a tube
of a smaller Fourier number than SHORT."""

SPENT = 1e-3
"""Over the shift, of one over it and a rate: less is left of such modes than exp(-900)."""


def march(tube: Tube, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a tube, as the march does; the method sets its own accuracy.

    Raises AccuracyError if ``MODES`` or ``DEGREES`` do not suffice: the inlet is too sharp for so
    short a tube.
    """
    fourier = np.broadcast_to(tube.fourier_number(stream), (1, band.lanes))
    residence = np.broadcast_to(tube.residence(stream), (1, band.lanes))
    return along(fourier, residence, band)


def along(fourier: FloatArray, residence: FloatArray, band: Band) -> Band:
    """Send a band through tubes behind each other, each streamline on its way.

    Parameters
    ----------
    fourier : (tubes, lanes) array, 1
    residence : (tubes, lanes) array, s
    """
    whole = residence.sum(axis=0)
    # the tail ends when a layer at the wall has mixed, at residence / X^(1/3) times a constant
    tail = whole * (1.5 + 3 / np.cbrt(np.minimum(fourier.sum(axis=0), 3.0)))
    count = next_fast_len(band.values.shape[1] + int(np.ceil(np.max(tail / band.step))), real=True)
    spectra = np.fft.rfft(band.values, count, axis=1)
    units = residence / fourier
    for lane in range(band.lanes):
        omega = 2 * np.pi * np.fft.rfftfreq(count, band.step[lane])
        tubes = list(zip(units[:, lane] / units[0, lane], fourier[:, lane], strict=True))
        if band.jumps is not None:
            spectra[lane] += _exact_jumps(omega, band, lane)
        spectra[lane] *= transfer(omega * units[0, lane], tubes, np.abs(spectra[lane]))
    return Band(np.fft.irfft(spectra, count, axis=1), band.start + whole / 2, band.step)


def _exact_jumps(omega: FloatArray, band: Band, lane: int) -> ComplexArray:
    """What the transforms of jumps are more than those of the samples that stand for them.

    Of a jump by one 1/(i w); of its samples, -1/24, 1/2, 25/24 and then 1, a geometric series.
    """
    assert band.jumps is not None
    half = omega * band.step[lane] / 2
    safe = np.where(half > 0, half, 1.0)
    sampled = (13 * np.cos(safe) - np.cos(3 * safe)) / (12 * np.sin(np.minimum(safe, np.pi / 2)))
    shapes = np.where(half > 0, 1 / safe - sampled, 0.0) / 2j
    delays = band.jumps.at[lane] - band.start[lane]
    return np.asarray((np.exp(-1j * np.outer(omega, delays)) @ band.jumps.by[lane]) * shapes)


def transfer(omega: FloatArray, tubes: Tubes, weight: FloatArray) -> ComplexArray:
    """Transfer function of tubes in time counted from the transit on the axis.

    Parameters
    ----------
    omega : (frequencies,) array, 1
        Angular frequency in units of D/a^2, increasing from 0.
    tubes : one or several behind each other: a^2/D in that of the unit, and Fourier number
    weight : (frequencies,) array, any unit
        Size of the signal's component at each; where it is small less is asked.

    Returns
    -------
    (frequencies,) complex array, 1
    """
    size = weight / weight.max()
    needed = omega[size > TOLERANCE / 10]
    highest = needed[-1] if needed.size > 1 else omega[-1]
    for share in LEFT_OUT if _whole(tubes) >= SHORT else LEFT_OUT[1:]:
        highest = _passing(highest, share * TOLERANCE, tubes, omega, size)
        out = _interpolated(highest, tubes, omega, size)
        if out is not None:
            return out
    raise AccuracyError(
        f"the spectral solution of a tube of Fourier number {_whole(tubes):.2g} did not settle: "
        'the band that enters is too sharp; use solver = "finite differences"'
    )


def _passing(
    highest: float, least: float, tubes: Tubes, omega: FloatArray, size: FloatArray
) -> float:
    """Up to where more than the least of the signal's components passes, an edge's far end."""
    while highest > omega[1]:
        passes = np.abs(_exact(np.array([highest / 2]), tubes, SOME_MODES)[0])
        if passes * np.interp(highest / 2, omega, size) > least:
            break
        highest /= 2
    return highest


def _interpolated(
    highest: float, tubes: Tubes, omega: FloatArray, size: FloatArray
) -> ComplexArray | None:
    """The transfer function up to a frequency; None where it does not settle."""
    modes = _enough_modes(highest, tubes, omega, size)
    lowest = 1 / sum(unit * fourier for unit, fourier in tubes)
    reach = np.arcsinh(highest / lowest)

    def at_points(u: FloatArray) -> ComplexArray:
        return _exact(lowest * np.sinh((u + 1) / 2 * reach), tubes, modes)

    inside = omega <= highest
    u = 2 * np.arcsinh(omega[inside] / lowest) / reach - 1
    out = np.zeros(omega.size, complex)
    interpolate: Any = chebyshev.chebinterpolate  # stubs know real functions only
    previous = None
    for degree in DEGREES:
        out[inside] = chebyshev.chebval(u, interpolate(at_points, degree))
        if previous is not None and np.max(np.abs(out - previous) * size) < TOLERANCE:
            return out
        previous = out.copy()
    return None


def _enough_modes(highest: float, tubes: Tubes, omega: FloatArray, size: FloatArray) -> int:
    """Fewest modes whose answer does not change with more, at the frequencies that count most."""
    probes = highest * np.array([0.03, 0.1, 0.3, 1.0])
    weight = np.interp(probes, omega, size)
    for fewer, more in pairwise(MODES):
        change = np.abs(_exact(probes, tubes, fewer) - _exact(probes, tubes, more))
        if np.max(change * weight) < TOLERANCE:
            return fewer
    raise AccuracyError(
        f"{MODES[-1]} radial modes do not resolve a tube of Fourier number {_whole(tubes):.2g} at "
        'this sharp inlet; use solver = "finite differences"'
    )


def _whole(tubes: Tubes) -> float:
    return sum(fourier for _, fourier in tubes)


def _exact(omega: FloatArray, tubes: Tubes, modes: int) -> ComplexArray:
    """The transfer function at some frequencies, to 14 digits of what enters.

    By the modes of 1 / (shift + R + i w (I + W)): of the sum itself, in which rates reach 1e8, the
    modes that last would keep eight digits, and others on another kind of processor.
    """
    rates, coupling = radial_modes(modes)
    late = coupling + np.eye(modes) / 2
    out = np.empty(len(omega), complex)
    for k, w in enumerate(omega):
        state = np.zeros(modes, complex)
        state[0] = 1.0
        for unit, fourier in tubes:
            shift = 1 / fourier + w * unit
            root = 1 / np.sqrt(shift + rates)
            turning = 1j * w * unit * np.outer(root, root) * late
            inverse = np.outer(root, root) * np.linalg.inv(np.eye(modes) + turning)
            shares, vectors = np.linalg.eig(inverse)
            lasting = np.abs(shares) * shift > SPENT
            left = np.exp((shift - 1 / np.where(lasting, shares, 1 / shift)) * fourier)
            state = vectors @ (np.where(lasting, left, 0.0) * np.linalg.solve(vectors, state))
        out[k] = state[0]
    return out
