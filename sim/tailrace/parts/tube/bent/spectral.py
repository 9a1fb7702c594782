"""A second, independent way through a bent tube: spectral over the section and in time.

In frequency the coefficients of ``galerkin.py`` obey a' = -W^-1 (A + i w (1 - W/w_max)) a along the
tube. They stay in a space of about a hundred dimensions, whatever the frequency: that is found from
solutions at a few frequencies (implicit Euler steps that double, a rational Krylov space), and the
equations projected on it (Galerkin again, so that they stay dissipative). There the exponential is
taken at Chebyshev points of arsinh(w); the result is interpolated and multiplies the Fourier
transform of the band. The space, the terms over the section and the points grow until nothing
changes. No grid: nothing is shared with ``march.py`` but the flow.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.polynomial import chebyshev
from scipy.fft import next_fast_len
from scipy.linalg import expm
from scipy.sparse import csc_array, eye_array

from tailrace.errors import AccuracyError
from tailrace.parts.tube.bent.flow import dean_flow
from tailrace.parts.tube.bent.galerkin import Section, factored, passed_on, section
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.band import Band
from tailrace.threads import linear_algebra_alone

TOLERANCE = 2e-5
"""Of the transfer function, relative to the band's largest frequency component."""
ORDERS = (18, 26, 36, 50, 68, 92, 124, 168)
DEGREES = (24, 48, 96, 192, 384)
FREQUENCIES, LEVELS, STEPS = 10, 10, 2
"""Frequencies at which solutions are made; doublings of the step; steps of each size."""
KEPT = 3e-9
"""Directions of the space with less than this part of the largest singular value are left out."""


def march(chains: list[list[Stretch]], band: Band) -> Band:
    """Send a band through tubes made of stretches.

    ``band``: concentration in the stream that enters, uniform over the section. Flux-averaged
    concentration in the stream that leaves. Raises AccuracyError if ``ORDERS`` or ``DEGREES`` do
    not suffice: the inlet is too sharp for so short a tube.
    """
    residence = np.array([sum(s.residence for s in chain) for chain in chains])
    length = np.array([sum(s.length for s in chain) for chain in chains])
    # as in a straight tube, which takes longest to empty
    tail = residence * (1.5 + 3 / np.cbrt(np.minimum(length, 3.0)))
    count = next_fast_len(band.values.shape[1] + int(np.ceil(np.max(tail / band.step))), real=True)
    spectra = np.fft.rfft(band.values, count, axis=1)
    with linear_algebra_alone():  # the matrices are too small to share out
        for lane, chain in enumerate(chains):
            omega = 2 * np.pi * np.fft.rfftfreq(count, band.step[lane])
            spectra[lane] *= transfer(chain, omega, np.abs(spectra[lane]))
    transit = np.array([sum(s.transit for s in chain) for chain in chains])
    return Band(np.fft.irfft(spectra, count, axis=1), band.start + transit, band.step)


@dataclass(frozen=True, eq=False)
class Series:
    """A transfer function between ``lowest`` and ``highest``, rad/s, counted from the transit.

    ``coefficients``: of Chebyshev's polynomials in arsinh(omega / lowest).
    """

    lowest: float
    highest: float
    coefficients: ComplexArray

    def at(self, omega: FloatArray) -> ComplexArray:
        """(frequencies,) complex array, 1; 0 above the highest."""
        out = np.zeros(omega.size, complex)
        inside = omega <= self.highest
        place = np.arcsinh(omega[inside] / self.lowest) / np.arcsinh(self.highest / self.lowest)
        out[inside] = chebyshev.chebval(2 * place - 1, self.coefficients)
        return out


def transfer(chain: Sequence[Stretch], omega: FloatArray, weight: FloatArray) -> ComplexArray:
    """Transfer function in time counted from the transit of the fastest streamline.

    As ``solved``. (frequencies,) complex array, 1.
    """
    return solved(chain, omega, weight).at(omega)


def solved(chain: Sequence[Stretch], omega: FloatArray, weight: FloatArray) -> Series:
    """The same as a series.

    Parameters
    ----------
    omega : (frequencies,) array, rad/s, increasing from 0
    weight : (frequencies,) array, any unit
        Size of the signal's component at each; where it is small less is asked.

    Raises
    ------
    AccuracyError
        If ``ORDERS`` or ``DEGREES`` do not suffice.
    """
    size = weight / weight.max()
    needed = omega[size > TOLERANCE / 10]
    highest = float(needed[-1] if needed.size > 1 else omega[-1])
    lowest = 1 / sum(s.residence for s in chain)
    reach = np.arcsinh(highest / lowest)
    _, model = enough_terms(chain, highest, lowest, omega, size)

    previous = None
    for degree in DEGREES:
        points = chebyshev.chebpts1(degree + 1)
        values = model.response(lowest * np.sinh((points + 1) / 2 * reach))
        # exact at these points, as in chebinterpolate, which its stubs keep to real functions
        series = chebyshev.chebvander(points, degree).T @ values / (degree + 1)
        series[1:] *= 2
        found = Series(lowest, highest, series)
        out = found.at(omega)
        if previous is not None and np.max(np.abs(out - previous) * size) < TOLERANCE:
            return found
        previous = out
    raise AccuracyError(
        "the spectral solution of a bent tube did not settle: the band that enters is too sharp; "
        'use solver = "finite differences"'
    )


def enough_terms(
    chain: Sequence[Stretch],
    highest: float,
    lowest: float,
    omega: FloatArray,
    size: FloatArray,
    tolerance: float = TOLERANCE,
) -> tuple[int, "Model"]:
    """The fewest terms that give an answer which does not change with more; the model with these.

    Arguments and exceptions as of ``solved``.
    """
    probes = highest * np.array([0.01, 0.03, 0.1, 0.3, 1.0])
    weight = np.interp(probes, omega, size)
    before, answer = 0, np.zeros(probes.size, complex)
    for order in ORDERS[first_order(chain) :]:
        model = Model.built(chain, order, shots(highest, lowest))
        found = model.response(probes)
        if before and np.max(np.abs(found - answer) * weight) < tolerance:
            return before, model
        before, answer = order, found
    raise AccuracyError(
        f"{ORDERS[-1]} terms do not resolve a bent tube at C = "
        f"{max(s.strength for s in chain):.3g} with this sharp inlet; use "
        'solver = "finite differences"'
    )


def first_order(chain: Sequence[Stretch]) -> int:
    """Place in ``ORDERS`` from which on they are worth trying."""
    return int(np.clip(np.searchsorted(ORDERS, likely_order(chain)) - 1, 0, len(ORDERS) - 2))


def likely_order(chain: Sequence[Stretch]) -> float:
    """About how many terms over the section a chain asks for."""
    strongest = max(max(s.strength for s in chain), 1.0)
    shortest = min(min(s.length for s in chain), 0.1)
    return float(10 * max(1.0, strongest / 1e3) ** 0.3 * (0.1 / shortest) ** 0.2)


def shots(highest: float, lowest: float) -> ComplexArray:
    """Rates, i times rad/s, from which a space is made that holds frequencies up to a highest."""
    omega = np.concatenate([[0.0], np.geomspace(lowest / 2, highest, FREQUENCIES - 1)])
    return np.asarray(1j * omega)


@dataclass(frozen=True, eq=False)
class Reduced:
    """One stretch in its space: ``basis``, rates, what p multiplies, and how the state enters."""

    basis: FloatArray
    rates: FloatArray
    hold: FloatArray
    length: float
    radial_time: float
    enter: FloatArray


@dataclass(frozen=True, eq=False)
class Model:
    """A chain of stretches reduced to a few dimensions each."""

    parts: tuple[Reduced, ...]
    leave: FloatArray

    @staticmethod
    def built(chain: Sequence[Stretch], order: int, rates: ComplexArray) -> "Model":
        """Make the spaces from solutions at several rates, 1/s."""
        sections = [section(s.dean, order) for s in chain]
        unit = np.zeros(sections[0].size)
        unit[0] = 1.0
        states = [unit.astype(complex) for _ in rates]
        bases, parts = [unit[:, None]], []
        for place, (stretch, at) in enumerate(zip(chain, sections, strict=True)):
            entering = bases[-1]
            if place:
                turned = stretch.turned != chain[place - 1].turned
                joint = passed_on(sections[place - 1], at, turned)
                states = [joint @ state for state in states]
                entering = np.asarray(joint @ entering)
            basis, states = _space(stretch, at, states, rates)
            parts.append(_reduced(stretch, at, basis, entering))
            bases.append(basis)
        leave = sections[-1].axial[[0], :] @ bases[-1]
        return Model(tuple(parts), np.asarray(leave)[0])

    def response(self, omega: FloatArray) -> ComplexArray:
        """Flux average at the outlet of each frequency, rad/s. (frequencies,) complex array."""
        out = np.empty(len(omega), complex)
        for k, w in enumerate(omega):
            state = np.ones(1, complex)
            for part in self.parts:
                matrix = part.rates + 1j * w * part.radial_time * part.hold
                state = expm(-part.length * matrix) @ (part.enter @ state)
            out[k] = self.leave @ state
        return out

    def at_lengths(self, omega: FloatArray, lengths: FloatArray) -> ComplexArray:
        """As ``response``, behind parts of a lone stretch. (frequencies, lengths) complex array."""
        (part,) = self.parts
        out = np.empty((omega.size, lengths.size), complex)
        for k, w in enumerate(omega):
            rates, vectors = np.linalg.eig(part.rates + 1j * w * part.radial_time * part.hold)
            shares = np.linalg.solve(vectors, part.enter[:, 0]) * (self.leave @ vectors)
            out[k] = np.exp(-np.outer(lengths, rates)) @ shares
        return out


def _space(
    stretch: Stretch, at: Section, states: list[ComplexArray], rates: ComplexArray
) -> tuple[FloatArray, list[ComplexArray]]:
    """Orthonormal basis of what happens along one stretch, and the states at its end."""
    change, hold = _matrices(stretch, at)
    shots, ends = [np.eye(at.size)[0]], []
    for state, rate in zip(states, rates, strict=True):
        shots += [state.real, state.imag]
        step = stretch.length / STEPS / 2.0**LEVELS
        for level in range(LEVELS + 1):
            lu = factored(step * change + (rate * stretch.radial_time * step) * hold + at.axial)
            for _ in range(STEPS):
                state = lu.solve(np.asarray(at.axial @ state))
                shots += [state.real, state.imag]
            step *= 2 if level else 1
        ends.append(state)
    vectors, sizes, _ = np.linalg.svd(np.array(shots).T, full_matrices=False)
    return vectors[:, sizes > KEPT * sizes[0]], ends


def _matrices(stretch: Stretch, at: Section) -> tuple[csc_array, csc_array]:
    change = csc_array(at.exchange + 4 * stretch.strength * at.stirring)
    hold = csc_array(eye_array(at.size) - at.axial / dean_flow(stretch.dean).fastest)
    return change, hold


def _reduced(stretch: Stretch, at: Section, basis: FloatArray, entering: FloatArray) -> Reduced:
    change, hold = _matrices(stretch, at)
    advance = np.linalg.inv(basis.T @ (at.axial @ basis))
    return Reduced(
        basis=basis,
        rates=advance @ (basis.T @ (change @ basis)),
        hold=advance @ (basis.T @ (hold @ basis)),
        length=stretch.length,
        radial_time=stretch.radial_time,
        enter=basis.T @ entering,
    )
