"""Transfer functions of bent tubes and of several behind each other, solved for all over a box.

The spectral way, for a pulse and a residence of 1, up to the frequency from which on next to
nothing passes: a series over u = omega sigma, sigma^2 the variance, in time that moves from the
mean (u << LATE) to the first to arrive; its coefficients are polynomials over the directions of the
box.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product

import numpy as np
from numpy.polynomial import chebyshev

from tailrace.errors import AccuracyError
from tailrace.parts.tube.bent import spread
from tailrace.parts.tube.bent.box import Box
from tailrace.parts.tube.bent.leja import MOST_NODES, SHARED, Degrees, Polynomial, fitted, points
from tailrace.parts.tube.bent.spectral import (
    ORDERS,
    Model,
    enough_terms,
    first_order,
    likely_order,
    shots,
)
from tailrace.parts.tube.bent.stretch import Chain
from tailrace.parts.tube.bent.theory import chain_cumulants
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.threads import linear_algebra_alone

ERROR = 2e-4
"""Of the transfer function, over its value at rest (a test)."""
FIRST, FARTHER, STEPS = 60.0, 6.0, 4
"""Highest u that is solved for first; steps upwards, and how many."""
LATE = 6.0
"""u from which on time counts from the first to arrive, not from the mean."""
ENOUGH = 5e-5
"""Change of the transfer function by more terms over the section."""
NOTHING = 2e-5
"""Where less passes, and at all higher frequencies, it is taken as nothing."""
SURELY = 10.0
"""Times NOTHING, by few terms: then no solution is made that ends there."""
SETTLED, UNSETTLED = 2e-5, 5e-5
"""Change by the last degrees of a polynomial over the box; with more than the second it is no
answer."""
DEGREES, TAIL, MORE = (80, 240), 3, 1.15
"""Degrees of the series over u that are tried; of how many of its last terms the sum counts; by how
much other chains of a box may ask for more."""
PASSING = 400
"""Frequencies at which it is looked for the last that passes."""
SECONDS, USUAL, STEEPLY, NODE = 0.6, 13.0, 2.7, 0.3
"""Of one processor, for a stretch that asks for so many terms, the power by which more take longer,
and the part of it for one more chain of a box (measured)."""


def seconds(box: Box) -> float:
    """Of one processor, about, until a box is solved for; within a factor of three."""
    each = sum((likely_order([one]) / USUAL) ** STEEPLY for one in _hardest(box))
    return float(SECONDS * each * (1 + NODE * box.count() if box.directions else 1))


def _highest(reach: int) -> float:
    return FIRST * FARTHER**reach


def _passes(key: tuple[str, Box, int]) -> bool:
    """Whether it is sure, by few terms, that something passes at the highest u of a reach."""
    _, box, reach = key
    chain = box.chain((0.0,) * box.directions)
    highest = _highest(reach) / _sigma(chain)
    with linear_algebra_alone():
        model = Model.built(chain, ORDERS[first_order(chain)], shots(highest, 1.0))
        return bool(np.abs(model.response(np.array([highest])))[0] > SURELY * NOTHING)


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
    sigma = np.sqrt(spread.cumulants(box, places)[:, :1])
    highest = float(np.max(asked * sigma, initial=0.0))
    for reach in range(STEPS):
        beyond = highest > _highest(reach) and reach + 1 < STEPS
        if beyond and SHARED.all([("passes", box, reach)], _passes)[0]:
            continue
        series = _series(box, reach)
        if min(highest, series.still) <= series.highest:
            return series.at(places, asked, sigma)
    raise AccuracyError(
        "the transfer function of a bent tube was not solved for frequencies as high as this path "
        "lets pass: march it"
    )


@dataclass(frozen=True, eq=False)
class Series:
    """Transfer functions all over a box, of a residence of 1.

    Parameters
    ----------
    highest : float, 1
        u to which they are solved for.
    still : float, 1
        From which on nothing passes, or infinite.
    ahead : float, 1
        By how much the first to arrive are earlier than the mean.
    coefficients : of Chebyshev's polynomials in arsinh(u), real parts before imaginary ones
    """

    highest: float
    still: float
    ahead: float
    coefficients: Polynomial

    def at(self, places: FloatArray, omega: FloatArray, sigma: FloatArray) -> ComplexArray:
        """(lanes, frequencies) complex array, 1; ``sigma`` is a (lanes, 1) array, 1."""
        real, imaginary = np.split(self.coefficients.at(places), 2, axis=1)
        series, u = (real + 1j * imaginary).T[:, :, None], omega * sigma
        passing = u <= min(self.highest, self.still)
        place = 2 * np.arcsinh(np.where(passing, u, 0.0)) / np.arcsinh(self.highest) - 1
        found = chebyshev.chebval(place, series, tensor=False)
        return np.where(passing, found * np.exp(-1j * omega * _moved(u, self.ahead)), 0.0)


def _moved(u: FloatArray, ahead: float) -> FloatArray:
    """Time from which it counts."""
    return np.asarray(1 - ahead * u**2 / (LATE**2 + u**2))


@dataclass(frozen=True)
class _Plan:
    """How chains of one box are solved for: terms over the section, degree of the series."""

    highest: float
    order: int
    degree: int
    ahead: float
    alone: FloatArray | None = None
    """Of the only chain of a box."""

    def values(self, chain: Chain) -> FloatArray:
        """At the points of the series; real parts before imaginary ones."""
        sigma = _sigma(chain)
        highest = self.highest / sigma
        with linear_algebra_alone():  # the matrices are too small to share out
            model = Model.built(chain, self.order, shots(highest, 1.0))
            return _parts(_counted(model, chain, _points(self.highest, self.degree), self.ahead))


def _sigma(chain: Chain) -> float:
    return float(np.sqrt(chain_cumulants(chain)[0]))


def _parts(values: ComplexArray) -> FloatArray:
    return np.concatenate([values.real, values.imag])


def _points(highest: float, degree: int) -> FloatArray:
    places = (chebyshev.chebpts1(degree + 1) + 1) / 2
    return np.asarray(np.sinh(places * np.arcsinh(highest)))


def _counted(model: Model, chain: Chain, u: FloatArray, ahead: float) -> ComplexArray:
    omega, transit = u / _sigma(chain), sum(one.transit for one in chain)
    return np.asarray(model.response(omega) * np.exp(1j * omega * (_moved(u, ahead) - transit)))


def _hardest(box: Box) -> Chain:
    return max(box.corners(), key=likely_order)


def _planned(key: tuple[str, Box, int]) -> _Plan:
    """By the chain of the box that asks for most."""
    _, box, reach = key
    chain, highest = _hardest(box), _highest(reach)
    ahead = 1 - sum(one.transit for one in box.chain((0.0,) * box.directions))
    ends, passing = np.array([0.0, highest / _sigma(chain)]), np.ones(2)
    with linear_algebra_alone():
        order, model = enough_terms(chain, ends[1], 1.0, ends, passing, ENOUGH)
        for most in DEGREES:
            values = _counted(model, chain, _points(highest, most), ahead)
            terms = np.abs(_transform(most) @ values)
            rest = np.asarray(np.cumsum(terms[::-1])[::-1], dtype=float)
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
    places = np.arccos(chebyshev.chebpts1(degree + 1))
    found = np.asarray(np.cos(np.arange(degree + 1.0)[:, None] * places) * (2 / (degree + 1)))
    found[0] /= 2
    return found


@lru_cache(maxsize=1024)
def _series(box: Box, reach: int) -> Series:
    plan: _Plan = SHARED.all([("plan", box, reach)], _planned)[0]

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
    """u from which on nothing passes at any corner, or infinity."""
    places = np.array(list(product((-1.0, 1.0), repeat=box.directions)))
    u = np.sinh(np.linspace(0.0, np.arcsinh(series.highest), PASSING))
    sizes = np.abs(series.at(places, np.tile(u, (len(places), 1)), np.ones((len(places), 1))))
    last = int(np.flatnonzero(sizes.max(axis=0) > NOTHING)[-1])
    # a stretch without anything at the end says that no more comes
    return float(u[last + 1]) if last < 0.95 * PASSING else np.inf
