"""Exact cumulants of a bent tube of any length, from moment equations.

Expanded in the Laplace variable of time less its mean, the coefficients of ``galerkin.py`` obey

    W a_n' = -A a_n - (1 - W) a_(n-1) ,  A = K + 4 C V ,  a_0 = 1, a_1 = a_2 = 0 at the inlet,

and the flux average of a_2 and a_3 at the outlet gives the variance and the third cumulant. Along
the tube the exponential of this block-triangular system is applied by its (3, 4) Pade approximant,
of order seven and L-stable, in equal steps for each tenfold length. More terms over the section,
until nothing changes.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from itertools import pairwise

import numpy as np
from numpy.polynomial import polynomial
from scipy.sparse import csc_array, eye_array
from scipy.sparse.linalg import SuperLU

from tailrace.errors import AccuracyError
from tailrace.parts.tube.bent.galerkin import Section, factored, passed_on, section
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.parts.tube.theory import reduced_cumulants
from tailrace.quantities.arrays import ComplexArray, FloatArray

TOLERANCE = np.array([1e-4, 5e-4])
"""Of variance and third cumulant, relative."""
FALLING = 0.5
"""Ratio of two differences below which the next are foretold from it."""
ORDERS = (12, 18, 26, 36, 50, 68, 92, 124, 160)
ROUGH = 26
SECONDS, LAST_BUT_ONE, STEEPLY, GENTLE, USUALLY = 6.0, 124, 3.2, 30.0, 4
"""Of one processor, for a stretch with so many terms; the power by which more take longer; Dean's
number above which the flow couples more of them; how many expansions are made (measured)."""
STEPS, GROWTH = 16, 10.0
"""Equal steps until the length has grown so much; then longer ones."""
FIRST = 1e-3
"""Length of the first step, over that of the tube, times its number of steps."""


def cumulants(dean: float, strength: float, length: float) -> tuple[float, float]:
    """Variance and third cumulant that a bent tube adds, in units of (a^2/D)^2 and (a^2/D)^3.

    Parameters
    ----------
    dean : (a w0/nu) sqrt(a/R), 1
    strength : C = dean^2 nu/D, 1
    length : X = pi D z/F, 1

    Returns
    -------
    variance, third

    Raises
    ------
    AccuracyError
        If the finest expansion does not suffice.
    """
    return _converged(dean, strength, length)


@lru_cache(maxsize=512)
def _converged(dean: float, strength: float, length: float) -> tuple[float, float]:
    at = np.array([length])
    return _settled(
        lambda order: at_lengths(section(dean, order), strength, at)[0], strength, length
    )


def _settled(
    found: Callable[[int], FloatArray], strength: float, length: float
) -> tuple[float, float]:
    """Cumulants by orders that grow until they settle.

    What two orders differ by falls at least as fast as from the two before: what is left is taken
    as the rest of that geometric series.
    """
    rows: list[FloatArray] = []
    for order in ORDERS[_first_order(strength, length) :]:
        rows.append(found(order))
        if len(rows) == 1:
            continue
        left = np.abs(rows[-1] - rows[-2])
        if len(rows) > 2:
            ratio = left / np.maximum(np.abs(rows[-2] - rows[-3]), 1e-300)
            left = np.where(ratio < FALLING, left * ratio / (1 - ratio), left)
        if np.all(left <= TOLERANCE * np.abs(rows[-1])):
            return float(rows[-1][0]), float(rows[-1][1])
    raise AccuracyError(
        f"the exact cumulants of a bent tube did not settle at C = {strength:.3g}, X = {length:.3g}"
    )


def _first_order(strength: float, length: float) -> int:
    layers = 10 * max(1.0, strength / 1e3) ** 0.3 * max(1.0, 0.1 / length) ** 0.2
    return int(np.clip(np.searchsorted(ORDERS, layers) - 1, 0, len(ORDERS) - 2))


@lru_cache(maxsize=512)
def chain_cumulants(chain: tuple[Stretch, ...]) -> tuple[float, float]:
    """Variance, s^2, and third cumulant, s^3, that stretches behind each other add.

    Raises
    ------
    AccuracyError
        If the finest expansion does not suffice.
    """
    if not chain:
        return 0.0, 0.0
    if len(chain) == 1:
        one = chain[0]
        variance, third = cumulants(one.dean, one.strength, one.length)
        return variance * one.radial_time**2, third * one.radial_time**3
    return _settled(
        lambda order: _chained(chain, order),
        max(one.strength for one in chain),
        min(one.length for one in chain),
    )


def chain_seconds(chain: tuple[Stretch, ...]) -> float:
    """Of one processor, about, for ``chain_cumulants``; within a factor of four."""
    if not chain:
        return 0.0
    first = _first_order(max(one.strength for one in chain), min(one.length for one in chain))
    orders = np.array(ORDERS[first : first + USUALLY])
    each = SECONDS * np.sum((orders / LAST_BUT_ONE) ** STEEPLY)
    return float(each * sum(max(1.0, one.dean / GENTLE) for one in chain))


def rough_change(strength: FloatArray, length: FloatArray) -> FloatArray:
    """Variance of bent tubes less that of straight ones, in units of (a^2/D)^2; as ``length``.

    With few terms over the section and slow flow: good to a percent or two up to C = 30,000.
    """
    at = section(0.0, ROUGH)
    found = [
        [at_lengths(at, float(c), np.array([x]))[0, 0] for c in (bent, 0.0)]
        for bent, x in zip(strength, length, strict=True)
    ]
    return np.array([bent - straight for bent, straight in found])


def straight_variance(length: FloatArray) -> FloatArray:
    """Variance of straight tubes in units of (a^2/D)^2, as ``length``; to a percent."""
    at = section(0.0, ROUGH)
    rows = [at_lengths(at, 0.0, np.array([x]))[0, 0] if x > 0 else 0.0 for x in length]
    return np.array(rows)


NODE = 0.25
"""Of the logarithm of a length, between nodes at which ``stirred`` is solved for."""


def stirred(strength: FloatArray, length: FloatArray) -> FloatArray:
    """By what diffusion would have to be faster in straight tubes for the variance of bent ones.

    As ``length``; two to each tenfold C as good as ``rough_change``, between these the variance
    within a tenth. Below C = 10 a bend counts for nothing, above 1e5 for as much as there.
    """
    found = []
    for bent, x in zip(strength, length, strict=True):
        known, ratio = _stirring(float(x))
        found.append(np.exp(np.interp(np.log(max(bent, known[0])), np.log(known), ratio)))
    return np.array(found)


def _stirring(length: float) -> tuple[FloatArray, FloatArray]:
    """Some C, and the logarithm of what ``stirred`` says there: a cubic in the logarithm of the
    length through four nodes, that studies may ask for thousands of lengths."""
    at = np.log(length) / NODE
    nodes = np.floor(at) + np.arange(-1, 3)
    apart = at - nodes
    weights = np.array(
        [np.prod([apart[k] / (nodes[j] - nodes[k]) for k in range(4) if k != j]) for j in range(4)]
    )
    found = [_stirring_at(int(one)) for one in nodes]
    return found[0][0], np.tensordot(weights, [ratio for _, ratio in found], axes=1)


STRENGTHS = np.geomspace(10, 1e5, 9)
FIRST_NODE, LAST_NODE = -28, 28
"""Lengths from 9e-4 to 1.1e3 are in a table (``stirring.npz``, made by
``benchmarks/bent_stirring_table.py``)."""


@lru_cache(maxsize=256)
def _stirring_at(node: int) -> tuple[FloatArray, FloatArray]:
    known = _tabled()[node - FIRST_NODE] if FIRST_NODE <= node <= LAST_NODE else solved_at(node)
    return STRENGTHS, known


@lru_cache(maxsize=1)
def _tabled() -> FloatArray:
    with files("tailrace.parts.tube.bent").joinpath("stirring.npz").open("rb") as stream:
        return np.asarray(np.load(stream)["faster"], dtype=float)


def solved_at(node: int) -> FloatArray:
    """Logarithm of ``stirred`` at one length, for all ``STRENGTHS``."""
    length = float(np.exp(NODE * node))
    faster, at = np.geomspace(1, 100, 60), section(0.0, ROUGH)
    rows = [at_lengths(at, float(c), np.array([length]))[0, 0] for c in (0.0, *STRENGTHS[1:])]
    straight = reduced_cumulants(length * faster)[0] / faster**2
    ends = np.log(straight[::-1] / straight[0]), np.log(faster[::-1])
    return np.asarray(np.interp(np.log(np.array(rows) / rows[0]), *ends))


def _chained(chain: tuple[Stretch, ...], order: int) -> FloatArray:
    sections = [section(one.dean, order) for one in chain]
    state = along(sections[0], chain[0].strength, chain[0].length, Moments.uniform(sections[0]))
    for (before, one), (at, here) in zip(pairwise(chain), pairwise(sections), strict=True):
        joint = passed_on(at, here, before.turned != one.turned)
        state = state.scaled(before.radial_time / one.radial_time)
        state = Moments(joint @ state.first, joint @ state.second, state.third)
        state = along(here, one.strength, one.length, state)
    unit = chain[-1].radial_time
    scale: FloatArray = np.array([unit**2, unit**3])
    return state.cumulants(sections[-1]) * scale


@dataclass(frozen=True, eq=False)
class Moments:
    """Coefficients a_1 and a_2, and the flux average of a_3."""

    first: FloatArray
    second: FloatArray
    third: float

    @staticmethod
    def uniform(at: Section) -> "Moments":
        """At the inlet."""
        return Moments(np.zeros(at.size), np.zeros(at.size), 0.0)

    def scaled(self, factor: float) -> "Moments":
        """In a unit of time that is smaller by this factor."""
        return Moments(self.first * factor, self.second * factor**2, self.third * factor**3)

    def cumulants(self, at: Section) -> FloatArray:
        """Variance and third cumulant of the flux average. (2,) array, unit of time."""
        return np.array([2 * (at.axial[[0], :] @ self.second)[0], -6 * self.third])


def at_lengths(at: Section, strength: float, lengths: FloatArray, steps: int = STEPS) -> FloatArray:
    """Variance and third cumulant at increasing lengths, with one expansion. (lengths, 2) array.

    Parameters
    ----------
    at : Section
    strength : C, 1
    lengths : (lengths,) array, 1
    steps : in each tenfold length
    """
    state, reached, out = Moments.uniform(at), 0.0, []
    for length in lengths:
        state = along(at, strength, float(length), state, reached, steps)
        reached = float(length)
        out.append(state.cumulants(at))
    return np.array(out)


def along(
    at: Section,
    strength: float,
    length: float,
    state: Moments,
    reached: float = 0.0,
    steps: int = STEPS,
) -> Moments:
    """Moments at a length, from those at a lesser one that steps grow from."""
    change = csc_array(at.exchange + 4 * strength * at.stirring)
    hold = csc_array(eye_array(at.size) - at.axial)
    step, taken, latest = (reached or FIRST * length) / steps, 0, 0.0
    while reached < length * (1 - 1e-12):
        if taken == steps:
            step, taken = reached * (GROWTH - 1) / steps, 0
        here = min(step, length - reached)
        if here != latest:
            factors = [factored(here * change + pole * at.axial) for pole in POLES]
            latest = here
        state = _advance(at, factors, hold, here, state)
        reached += here
        taken += 1
    return state


def _advance(
    at: Section, factors: list[SuperLU], hold: csc_array, step: float, state: Moments
) -> Moments:
    """One step along the tube."""
    unit = np.zeros(at.size)
    unit[0] = 1.0
    source, left, right = hold @ unit, at.axial @ state.first, at.axial @ state.second
    first, second, third = np.zeros(at.size), np.zeros(at.size), 0.0
    for pole, residue, lu in zip(POLES, RESIDUES, factors, strict=True):
        one = lu.solve(step / pole * source - left)
        two = lu.solve(-right - step * (hold @ one))
        three = -(state.third + step * source @ two) / pole
        first += 2 * (residue * one).real
        second += 2 * (residue * two).real
        third += 2 * (residue * three).real
    return Moments(first, second, float(third))


def _pade() -> tuple[ComplexArray, ComplexArray]:
    """Poles with positive imaginary part of the (3, 4) approximant of exp(z), and its residues."""
    upper = np.array([1.0, 3 / 7, 1 / 14, 1 / 210])
    lower = np.array([1.0, -4 / 7, 1 / 7, -2 / 105, 1 / 840])
    poles = polynomial.polyroots(lower)
    poles = poles[poles.imag > 0]
    slope = polynomial.polyval(poles, polynomial.polyder(lower))
    return poles, polynomial.polyval(poles, upper) / slope


POLES, RESIDUES = _pade()
