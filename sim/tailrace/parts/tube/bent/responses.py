"""Transfer functions of bent tubes and of several behind each other, solved for all over a box.

The spectral way, for a pulse and a residence of 1, up to the frequency from which on next to
nothing passes: a series over the frequencies, in time from one part of the residence, whose
coefficients are polynomials over the directions of the box.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product

import numpy as np
from numpy.polynomial import chebyshev
from threadpoolctl import threadpool_limits

from tailrace.errors import AccuracyError
from tailrace.parts.tube.bent.box import Box
from tailrace.parts.tube.bent.leja import SHARED, Degrees, Polynomial, fitted, points
from tailrace.parts.tube.bent.spectral import Model, enough_terms, likely_order, shots
from tailrace.parts.tube.bent.stretch import Chain
from tailrace.quantities.arrays import ComplexArray, FloatArray

ERROR = 1e-4
"""Of the transfer function, over its value at rest (a test)."""
FIRST, FARTHER, STEPS = 30.0, 6.0, 5
"""Highest frequency that is solved for first, over 1 / residence; steps upwards, and how many."""
NOTHING = 2e-5
"""Where less passes, and at all higher frequencies, it is taken as nothing."""
SETTLED = 2e-5
"""Change by the last degrees of a polynomial over the box."""
MOST_NODES, UNSETTLED = 160, 1e-4
"""Chains that are solved for at most, and the change with which it is no answer."""
ROUGH, DEGREES, TAIL, MORE = 26, (80, 240), 3, 1.15
"""Terms over the section from which the last frequency is guessed; degrees of the series over the
frequencies that are tried; of how many of its last terms the sum counts; by how much other chains
of a box may ask for more."""
PASSING = 400
"""Frequencies at which it is looked for the last that passes."""
SECONDS, USUAL, STEEPLY, NODE = 1.2, 13.0, 2.4, 0.3
"""Of one processor, for a stretch that asks for so many terms, the power by which more take longer,
and the part of it for one more chain of a box."""


def seconds(box: Box) -> float:
    """Of one processor, about, until a box is solved for; within a factor of three."""
    each = sum((likely_order([one]) / USUAL) ** STEEPLY for one in _hardest(box))
    return float(SECONDS * each * (1 + NODE * box.count() if box.directions else 1))


def highest_of(reach: int) -> float:
    """Highest frequency after so many steps upwards, over 1 / residence."""
    return FIRST * FARTHER**reach


def reach_of(highest: float) -> int:
    """Steps upwards until a frequency is reached, or all."""
    steps = np.log(max(highest, FIRST) / FIRST) / np.log(FARTHER)
    return min(int(np.ceil(steps - 1e-9)), STEPS - 1)


def response(box: Box, places: FloatArray, asked: FloatArray) -> ComplexArray:
    """Flux average at the end of chains that are entered uniform over the section.

    Parameters
    ----------
    places : (lanes, directions) array, 1
        In the box, from -1 to 1.
    asked : (lanes, frequencies) array, 1
        Times the residence.

    Returns
    -------
    (lanes, frequencies) complex array, 1
        In time from the inlet; good to ERROR.

    Raises
    ------
    AccuracyError
        If the spectral way does not settle as far as is asked.
    """
    highest = float(np.max(asked, initial=0.0))
    reach = min(reach_of(highest), *SHARED.all([("fades", box)], _fades))
    series = _series(box, reach)
    while min(highest, series.still) > series.highest and reach < STEPS - 1:
        reach += 1
        series = _series(box, reach)
    if min(highest, series.still) > series.highest:
        raise AccuracyError(
            "the transfer function of a bent tube was not solved for frequencies as high as this "
            "path lets pass: march it"
        )
    return series.at(places, asked)


@dataclass(frozen=True, eq=False)
class Series:
    """Transfer functions all over a box, of a residence of 1.

    Parameters
    ----------
    highest : float, 1
        Frequency to which they are solved for.
    still : float, 1
        From which on nothing passes, or infinite.
    ahead : float, 1
        Time from which they count.
    coefficients : of Chebyshev's polynomials in arsinh(omega), real parts before imaginary ones
    """

    highest: float
    still: float
    ahead: float
    coefficients: Polynomial

    def at(self, places: FloatArray, omega: FloatArray) -> ComplexArray:
        """(lanes, frequencies) complex array, 1."""
        real, imaginary = np.split(self.coefficients.at(places), 2, axis=1)
        series = (real + 1j * imaginary).T[:, :, None]
        passing = omega <= min(self.highest, self.still)
        place = 2 * np.arcsinh(np.where(passing, omega, 0.0)) / np.arcsinh(self.highest) - 1
        found = chebyshev.chebval(place, series, tensor=False) * np.exp(-1j * self.ahead * omega)
        return np.where(passing, found, 0.0)


@dataclass(frozen=True)
class _Plan:
    """How chains of one box are solved for: terms over the section, points over the frequencies."""

    highest: float
    order: int
    degree: int
    ahead: float
    alone: FloatArray | None = None
    """Of the only chain of a box."""

    @property
    def omega(self) -> FloatArray:
        return _points(self.highest, self.degree)

    def values(self, chain: Chain) -> FloatArray:
        """At the points; real parts before imaginary ones."""
        with threadpool_limits(1, "blas"):  # the matrices are too small to share out
            model = Model.built(chain, self.order, shots(self.highest, 1.0))
            found = _counted(model, chain, self.omega, self.ahead)
        return _parts(found)


def _parts(values: ComplexArray) -> FloatArray:
    return np.concatenate([values.real, values.imag])


def _points(highest: float, degree: int) -> FloatArray:
    places = (chebyshev.chebpts1(degree + 1) + 1) / 2
    return np.asarray(np.sinh(places * np.arcsinh(highest)))


def _counted(model: Model, chain: Chain, omega: FloatArray, ahead: float) -> ComplexArray:
    transit = sum(one.transit for one in chain)
    return np.asarray(model.response(omega) * np.exp(-1j * omega * (transit - ahead)))


def _hardest(box: Box) -> Chain:
    return max(box.corners(), key=likely_order)


def _fades(key: tuple[str, Box]) -> int:
    """Steps upwards until next to nothing passes; roughly."""
    chain = _hardest(key[1])
    with threadpool_limits(1, "blas"):
        model = Model.built(chain, ROUGH, shots(highest_of(STEPS - 1), 1.0))
        sizes = np.abs(model.response(np.array([highest_of(one) for one in range(STEPS)])))
    return int(np.argmax([*(sizes < NOTHING), True]).clip(0, STEPS - 1))


def _planned(key: tuple[str, Box, int]) -> _Plan:
    """By the chain of the box that asks for most."""
    _, box, reach = key
    chain, highest = _hardest(box), highest_of(reach)
    ahead = sum(one.transit for one in box.chain((0.0,) * box.directions))
    with threadpool_limits(1, "blas"):
        order, model = enough_terms(chain, highest, 1.0, np.array([0.0, highest]), np.ones(2))
        for most in DEGREES:
            values = _counted(model, chain, _points(highest, most), ahead)
            terms = np.abs(_transform(most) @ values)
            rest = np.cumsum(terms[::-1])[::-1]
            if rest[-TAIL] < SETTLED / 2:
                break
        else:
            raise AccuracyError(f"{DEGREES[-1]} terms do not follow a bent tube over frequencies")
    if not box.directions:
        return _Plan(highest, order, most, ahead, _parts(values))
    needed = int(np.count_nonzero(rest > SETTLED / 2))
    return _Plan(highest, order, min(int(MORE * needed) + TAIL, DEGREES[-1]), ahead)


def _transform(degree: int) -> FloatArray:
    """From values at ``chebpts1`` to coefficients."""
    places: FloatArray = chebyshev.chebpts1(degree + 1)
    found: FloatArray = chebyshev.chebvander(places, degree).T * (2 / (degree + 1))
    found[0] /= 2
    return found


@lru_cache(maxsize=1024)
def _series(box: Box, reach: int) -> Series:
    (plan,) = SHARED.all([("plan", box, reach)], _planned)

    def solved(key: tuple[str, Box, int, Degrees]) -> FloatArray:
        if plan.alone is not None:
            return plan.alone
        return plan.values(box.chain([points()[one] for one in key[-1]]))

    def of(degrees: Sequence[Degrees]) -> list[FloatArray]:
        return SHARED.all([("response", box, reach, one) for one in degrees], solved)

    def size(term: FloatArray) -> float:
        return float(np.hypot(*np.split(term, 2)).max())

    found = fitted(box.directions, of, size, SETTLED, MOST_NODES)
    if found.left > UNSETTLED:
        raise AccuracyError(
            f"{MOST_NODES} bent tubes do not say what those between them do: march them"
        )
    change = _transform(plan.degree)
    terms = [np.einsum("cv,tv->tc", change, one) for one in np.split(found.terms, 2, axis=1)]
    series = Series(
        plan.highest, np.inf, plan.ahead, replace(found, terms=np.concatenate(terms, axis=1))
    )
    return replace(series, still=_still(series, box))


def _still(series: Series, box: Box) -> float:
    """Frequency from which on nothing passes at any corner, or infinity."""
    places = np.array(list(product((-1.0, 1.0), repeat=box.directions)))
    omega = np.sinh(np.linspace(0.0, np.arcsinh(series.highest), PASSING))
    sizes = np.abs(series.at(places, np.broadcast_to(omega, (len(places), PASSING))))
    last = int(np.flatnonzero(sizes.max(axis=0) > NOTHING)[-1])
    # a stretch without anything at the end says that no more comes
    return float(omega[last + 1]) if last < 0.95 * PASSING else np.inf
