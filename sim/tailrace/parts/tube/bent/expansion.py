"""A bent tube, or several behind each other, and what changes with their numbers: to first order.

The equations are those of ``spectral.py``, M = W^-1 (A + i w H) along each stretch. Differentiated
with respect to the logarithm of each number (De, C, X, a^2/D of each stretch) they are solved
forward, beside the solution itself, at a few frequencies; solutions and their changes together span
the space on which the equations are projected. There one eigendecomposition of M at each Chebyshev
point gives the exponential and its changes (the divided differences of Daleckii and Krein).
Variance and third cumulant are read off the logarithm of the response near frequency zero.

A tube whose response is in the table (``spectrum.py``) has the slopes of what is read there.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.polynomial import chebyshev
from scipy.sparse import csc_array, eye_array

from tailrace.errors import AccuracyError
from tailrace.parts.tube.bent import spectrum
from tailrace.parts.tube.bent.flow import dean_flow, exactly
from tailrace.parts.tube.bent.galerkin import assembled, factored, passed_on
from tailrace.parts.tube.bent.spectral import LEVELS, ORDERS, STEPS, first_order, shots
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.threads import linear_algebra_alone

NUMBERS = ("dean", "strength", "length", "radial_time")
SETTLED = 1e-6
"""Change of the response from one order to the next: the finer one is better by two digits."""
DEGREES = (10, 20, 40, 80, 160, 320)
CLOSE, LAST = 1e-9, 4
"""Largest of the last terms of the series that is enough."""
KEPT, NEGLIGIBLE, ROUGH = 1e-10, 1e-10, 1e-5
"""Directions of a space, and harmonics of a flow, that are left out; entries of the equations while
the space is made."""
STEP, APART = 1e-3, np.array([-2.0, -1.0, 1.0, 2.0])
WEIGHTS = np.array([1.0, -8.0, 8.0, -1.0]) / 12
"""Of logarithms of what the table is read by: by so much they are moved, and how that counts."""
NEAR, LOW_POINTS, POWERS = 0.5, 12, 6
"""Cumulants: highest frequency, times the standard deviation; points and powers of each part."""


@dataclass(frozen=True, eq=False)
class Neighbours:
    """What chains beside one do, to first order from it, by the logarithms of their NUMBERS."""

    chain: tuple[Stretch, ...]

    def _moved(self, chain: Sequence[Stretch]) -> FloatArray:
        """1, then by how much the logarithms of the numbers of another chain differ."""
        found = [1.0]
        for one, other in zip(self.chain, chain, strict=True):
            for name in NUMBERS:
                before = getattr(one, name)
                found.append(np.log(getattr(other, name) / before) if before else 0.0)
        return np.array(found)

    def _turned(self, chain: Sequence[Stretch]) -> float:
        """Transit of another chain in the flow of this one, s."""
        return sum(
            one.radial_time * one.length / dean_flow(base.dean).fastest
            for one, base in zip(chain, self.chain, strict=True)
        )

    def response(self, chain: Sequence[Stretch], omega: FloatArray) -> ComplexArray:
        """Flux average behind a chain beside this one. (frequencies,) complex array, 1."""
        raise NotImplementedError

    def added(self, chain: Sequence[Stretch]) -> FloatArray:
        """Variance and third cumulant of a chain beside this one. (2,) array, s^2 and s^3."""
        raise NotImplementedError


@dataclass(frozen=True, eq=False)
class Expansion(Neighbours):
    """The response of a chain, counted from its transit, and the slope with each number.

    Parameters
    ----------
    highest : float, rad/s
        Above it nothing passes that matters.
    series : (degree + 1, 1 + numbers) complex array, 1
        Of Chebyshev's polynomials in arsinh(omega times residence): the response, then its slopes
        with the logarithms of NUMBERS of each stretch.
    cumulants : (2, 1 + numbers) array, s^2 and s^3
        Variance and third cumulant, likewise.
    """

    highest: float
    series: ComplexArray
    cumulants: FloatArray

    def response(self, chain: Sequence[Stretch], omega: FloatArray) -> ComplexArray:
        """As of ``Neighbours``; nothing passes above the highest frequency."""
        found = np.zeros(omega.size, complex)
        inside = omega <= self.highest
        place = _place(omega[inside], self.chain, self.highest)
        series = self.series @ self._moved(chain)
        turn = np.exp(-1j * self._turned(chain) * omega[inside])
        found[inside] = chebyshev.chebval(place, series) * turn
        return found

    def added(self, chain: Sequence[Stretch]) -> FloatArray:
        """As of ``Neighbours``."""
        return np.asarray(self.cumulants @ self._moved(chain))


@dataclass(frozen=True, eq=False)
class Tabulated(Neighbours):
    """Of one stretch, read from the table; slopes are central differences of fourth order."""

    def response(self, chain: Sequence[Stretch], omega: FloatArray) -> ComplexArray:
        """As of ``Neighbours``."""
        dean, strength, length, unit = _around(self.chain[0])
        found = spectrum.response(dean, strength, length, omega * unit[:, None])
        transit = unit * length / dean_flow(self.chain[0].dean).fastest
        slopes = _with_slopes(found * np.exp(1j * np.outer(transit, omega)))
        turn = np.exp(-1j * self._turned(chain) * omega)
        return np.asarray(self._moved(chain) @ slopes * turn)

    def added(self, chain: Sequence[Stretch]) -> FloatArray:
        """As of ``Neighbours``."""
        dean, strength, length, unit = _around(self.chain[0])
        found = spectrum.cumulants(dean, strength, length) * unit[:, None] ** np.array([2, 3])
        return np.asarray(self._moved(chain) @ _with_slopes(found))


def _around(stretch: Stretch) -> FloatArray:
    """NUMBERS of a stretch, then each of them moved by APART both ways. (numbers, 17) array."""
    logarithms = np.zeros((4, 4, 4))
    logarithms[range(4), range(4)] = APART * STEP
    numbers = np.array([getattr(stretch, name) for name in NUMBERS])
    moved = np.exp(
        np.concatenate([np.zeros((4, 1)), np.moveaxis(logarithms, 1, 0).reshape(4, -1)], 1)
    )
    return np.asarray(numbers[:, None] * moved)


def _with_slopes(values: Any) -> Any:
    """The first row, and slopes with each number from the rows of ``_around``."""
    each = values[1:].reshape(4, 4, -1)
    return np.concatenate([values[:1], np.einsum("k,nkf->nf", WEIGHTS / STEP, each)])


def neighbours(chain: tuple[Stretch, ...], highest: float) -> Neighbours:
    """Of a chain, up to a frequency, rad/s; raises AccuracyError as ``expanded``."""
    if len(chain) == 1 and np.all(spectrum.passes(*_around(chain[0])[:3])):
        return Tabulated(chain)
    return expanded(chain, highest)


def _residence(chain: Sequence[Stretch]) -> float:
    return sum(one.residence for one in chain)


def _place(omega: FloatArray, chain: Sequence[Stretch], highest: float) -> FloatArray:
    unit = _residence(chain)
    return np.asarray(2 * np.arcsinh(omega * unit) / np.arcsinh(highest * unit) - 1)


@lru_cache(maxsize=128)
def expanded(chain: tuple[Stretch, ...], highest: float) -> Expansion:
    """The expansion about a chain up to a frequency, rad/s; raises AccuracyError where its terms do
    not suffice."""
    width = np.sqrt(1 + 24 * sum(one.length for one in chain))
    highest = max(highest, width / _residence(chain))  # cumulants ask for that
    with linear_algebra_alone():  # the matrices are too small to share out
        model = _enough_terms(chain, highest)
        return Expansion(chain, highest, _series(model, chain, highest), model.cumulants())


def _enough_terms(chain: tuple[Stretch, ...], highest: float) -> "Model":
    probes = highest * np.array([0.01, 0.03, 0.1, 0.3, 1.0])
    before = np.full(probes.size, np.inf, dtype=complex)
    for order in ORDERS[first_order(chain) :]:
        model = Model(chain, order, highest)
        found = model.at(probes)[:, 0]
        if np.max(np.abs(found - before)) < SETTLED:
            return model
        before = found
    raise AccuracyError(f"{ORDERS[-1]} terms do not give the derivatives of a bent tube")


def _series(model: "Model", chain: tuple[Stretch, ...], highest: float) -> ComplexArray:
    unit = _residence(chain)
    for degree in DEGREES:
        points = chebyshev.chebpts1(degree + 1)
        values = model.at(np.sinh((points + 1) / 2 * np.arcsinh(highest * unit)) / unit)
        series = chebyshev.chebvander(points, degree).T @ values / (degree + 1)
        series[1:] *= 2
        if np.max(np.abs(series[-LAST:])) < CLOSE:
            return np.asarray(series)
    raise AccuracyError(f"degree {degree} does not follow the derivatives of a bent tube")


@dataclass(frozen=True, eq=False)
class Changing:
    """A matrix or vector, and its slopes with some numbers of the chain: four a stretch."""

    value: Any
    slopes: dict[int, Any] = field(default_factory=dict)

    def reduced(self, left: FloatArray, right: FloatArray | None = None) -> "Changing":
        """On both sides by bases, or on the left alone."""

        def one(matrix: Any) -> FloatArray:
            result = matrix if right is None else matrix @ right
            return np.asarray(left.T @ result)

        return Changing(one(self.value), {k: one(slope) for k, slope in self.slopes.items()})


class _Full:
    """One stretch with all terms: ``axial`` W, ``change`` A and ``hold`` H, ``first`` of W."""

    def __init__(self, stretch: Stretch, order: int, first: int) -> None:
        self.stretch, self.number = stretch, first
        flow, turned = exactly(stretch.dean, NEGLIGIBLE)
        at = self.at = assembled(flow, order)
        fastest, stirred = dean_flow(stretch.dean).fastest, 4 * stretch.strength
        unit: Any = eye_array(at.size)
        hold = csc_array(unit - at.axial / fastest)
        slopes: tuple[dict[int, Any], ...] = ({}, {}, {})
        if stretch.strength > 0:
            slope = assembled(turned, order)
            slopes = (
                {first: slope.axial},
                {
                    first: csc_array(stirred * slope.stirring),
                    first + 1: csc_array(stirred * at.stirring),
                },
                {first: csc_array(slope.axial / -fastest)},
            )
        whole = at.axial, at.exchange + stirred * at.stirring, hold
        self.axial, self.change, self.hold = map(Changing, whole, slopes)
        self._rough = [_rough(one) for one in whole]
        ends = {k: slope[[0], :].toarray()[0] for k, slope in slopes[0].items()}
        self.first = Changing(at.axial[[0], :].toarray()[0], ends)

    def joined(self, before: "_Full") -> Changing:
        """What hands a profile on from the stretch before."""
        turned = self.stretch.turned != before.stretch.turned
        whole = passed_on(before.at, self.at, turned)
        signs = np.where(np.array(self.at.harmonic) % 2, -1.0, 1.0) if turned else 1.0
        rows = before.first.slopes | {k: -signs * row for k, row in self.first.slopes.items()}
        unit = eye_array(self.at.size, 1)
        return Changing(whole, {k: csc_array(unit @ row[None]) for k, row in rows.items()})

    def along(
        self, rate: complex, state: ComplexArray, moved: dict[int, ComplexArray]
    ) -> Iterator[tuple[ComplexArray, dict[int, ComplexArray]]]:
        """The state and its slopes after each of the steps that ``spectral.py`` takes."""
        p, (axial, change, hold) = rate * self.stretch.radial_time, self._rough
        whole = csc_array(change + p * hold)
        length, last = self.number + 2, self.number + 3
        step = self.stretch.length / STEPS / 2.0**LEVELS
        for level in range(LEVELS + 1):
            lu = factored(csc_array(step * whole + axial))
            for _ in range(STEPS):
                entered, state = state, lu.solve(np.asarray(axial @ state))
                right = {k: axial @ one for k, one in moved.items()}
                for k, slope in self.axial.slopes.items():
                    right[k] = right[k] + slope @ (entered - state)
                for k, slope in self.change.slopes.items():
                    right[k] = right[k] - step * (slope @ state)
                for k, slope in self.hold.slopes.items():
                    right[k] = right[k] - step * p * (slope @ state)
                if length in moved:
                    right[length] = right[length] - step * (whole @ state)
                    right[last] = right[last] - step * p * (hold @ state)
                moved = {k: lu.solve(np.asarray(one)) for k, one in right.items()}
                yield state, moved
            step *= 2 if level else 1


def _rough(matrix: csc_array) -> csc_array:
    """Without entries that do not matter for a space."""
    result = csc_array(matrix, copy=True)
    result.data = np.where(
        np.abs(result.data) < ROUGH * np.abs(result.data).max(), 0.0, result.data
    )
    result.eliminate_zeros()
    return result


@dataclass(frozen=True, eq=False)
class _Reduced:
    """One stretch in its space, and how the band enters it from the one before."""

    stretch: Stretch
    number: int
    axial: Changing
    change: Changing
    hold: Changing
    enter: Changing


class Model:
    """A chain of stretches reduced to some dimensions each, and its slopes."""

    def __init__(self, chain: Sequence[Stretch], order: int, highest: float) -> None:
        full = [_Full(one, order, 4 * k) for k, one in enumerate(chain)]
        rates = shots(highest, 1 / _residence(chain))
        unit = np.eye(full[0].at.size)[0]
        ways = [(unit.astype(complex), dict[int, ComplexArray]()) for _ in rates]
        enter, basis, self.parts = Changing(unit[:, None]), np.eye(1), list[_Reduced]()
        for k, one in enumerate(full):
            if k:
                enter = one.joined(full[k - 1])
                ways = [_handed(enter, *way) for way in ways]
            of = enter
            new = list(one.change.slopes) + ([4 * k + 2, 4 * k + 3] if k < len(full) - 1 else [])
            still = dict.fromkeys(new, np.zeros(one.at.size, complex))
            ways = [(state, still | moved) for state, moved in ways]
            entered, (basis, ways) = basis, _space(one, rates, ways)
            axial, change, hold = (
                each.reduced(basis, basis) for each in (one.axial, one.change, one.hold)
            )
            enter = of.reduced(basis, entered)
            self.parts.append(_Reduced(one.stretch, one.number, axial, change, hold, enter))
        self._leave = full[-1].first.reduced(basis)
        self.count = 1 + 4 * len(chain)

    def at(self, omega: FloatArray) -> ComplexArray:
        """The response from the transit on, and its slopes. (frequencies, 1 + numbers) array."""
        return np.array([self._at(1j * w) for w in omega])

    def _at(self, rate: complex) -> ComplexArray:
        ways, state = list[_Way](), np.ones(1, complex)
        for part in self.parts:
            ways.append(_Way(part, rate, state))
            state = ways[-1].leaving
        found = np.zeros(self.count, complex)
        row = self._leave.value.astype(complex)
        found[0] = row @ state
        for k, slope in self._leave.slopes.items():
            found[1 + k] += slope @ state
        for way in reversed(ways):
            row = way.back(row, found[1:])
        return found

    def cumulants(self) -> FloatArray:
        """Variance and third cumulant, and their slopes. (2, 1 + numbers) array, s^2 and s^3."""
        unit = sum(part.stretch.residence for part in self.parts)
        low = 0.1 / unit
        width = np.sqrt(-2 * np.log(np.abs(self.at(np.array([low]))[0, 0]))) / low
        points = chebyshev.chebpts1(2 * LOW_POINTS)[LOW_POINTS:] * NEAR
        values = self.at(points / width)
        rows = np.concatenate([np.log(values[:, :1]), values[:, 1:] / values[:, :1]], axis=1)
        even, odd = (points[:, None] ** (2 * np.arange(POWERS) + k) for k in (2, 1))
        variance = -2 * np.linalg.lstsq(even, rows.real, rcond=None)[0][0]
        third = 6 * np.linalg.lstsq(odd, rows.imag, rcond=None)[0][1]
        return np.array([variance * width**2, third * width**3])


class _Way:
    """How a state passes one stretch at one rate."""

    def __init__(self, part: _Reduced, rate: complex, state: ComplexArray) -> None:
        self.part, self._before = part, state
        self._inverse = np.linalg.inv(part.axial.value)
        self._p = rate * part.stretch.radial_time
        self._matrix = self._inverse @ (part.change.value + self._p * part.hold.value)
        self._rates, self._vectors = np.linalg.eig(self._matrix)
        self._shares = np.linalg.solve(self._vectors, part.enter.value @ state)
        self._passed = np.exp(-part.stretch.length * self._rates)
        self.leaving = self._vectors @ (self._passed * self._shares)

    def back(self, row: ComplexArray, found: ComplexArray) -> ComplexArray:
        """Add to the slopes of ``row`` times what leaves; the row for what enters the stretch."""
        part, length, first = self.part, self.part.stretch.length, self.part.number
        inner = row @ self._vectors
        apart = length * (self._rates[:, None] - self._rates)
        near = np.abs(apart) < 0.1
        safe = np.where(near & (apart != 0), apart, 1.0)
        ratio = np.where(apart == 0, 1.0, -np.expm1(-np.where(near, apart, 0.0)) / safe)
        far = (self._passed - self._passed[:, None]) / np.where(near, 1.0, apart)
        kernel = -length * np.where(near, self._passed * ratio, far)
        weights = inner[:, None] * kernel * self._shares
        # sum of weights_ij (V^-1 dM V)_ij for every change dM of the matrix
        whole = np.linalg.solve(self._vectors.T, weights) @ self._vectors.T
        whole = self._inverse.T @ whole
        for k, slope in part.axial.slopes.items():
            found[k] -= np.sum(whole * (slope @ self._matrix))
        for k, slope in part.change.slopes.items():
            found[k] += np.sum(whole * slope)
        for k, slope in part.hold.slopes.items():
            found[k] += self._p * np.sum(whole * slope)
        found[first + 2] += -length * (inner * self._passed * self._rates) @ self._shares
        found[first + 3] += self._p * np.sum(whole * part.hold.value)
        row = np.linalg.solve(self._vectors.T, inner * self._passed)
        for k, slope in part.enter.slopes.items():
            found[k] += row @ (slope @ self._before)
        return np.asarray(row @ part.enter.value)


def _handed(
    joint: Changing, state: ComplexArray, moved: dict[int, ComplexArray]
) -> tuple[ComplexArray, dict[int, ComplexArray]]:
    slopes = {k: joint.value @ one for k, one in moved.items()}
    for k, slope in joint.slopes.items():
        slopes[k] = slopes.get(k, 0.0) + slope @ state
    return joint.value @ state, slopes


def _space(
    full: _Full,
    rates: ComplexArray,
    ways: list[tuple[ComplexArray, dict[int, ComplexArray]]],
) -> tuple[FloatArray, list[tuple[ComplexArray, dict[int, ComplexArray]]]]:
    """Orthonormal basis of what happens along one stretch, and what reaches its end."""
    found, ends = [np.eye(full.at.size)[0]], []
    for rate, (state, moved) in zip(rates, ways, strict=True):
        reached = state, moved
        for reached in ((state, moved), *full.along(rate, state, moved)):
            for one in (reached[0], *reached[1].values()):
                found += [one.real, one.imag]
        ends.append(reached)
    vectors, sizes, _ = np.linalg.svd(np.array(found).T, full_matrices=False)
    return vectors[:, sizes > KEPT * sizes[0]], ends
