"""Responses of tubes in a bend, and behind each other, with all terms of Galerkin's method.

Matrix exponentials at every frequency, and polynomials between: no space that holds the solutions,
no eigenvectors, no slopes. What is shared with the program are the matrices, which tests of bent
tubes hold against published values.
"""

from functools import lru_cache

import numpy as np
from numpy.polynomial import chebyshev
from scipy.linalg import expm

from tailrace.parts.tube.bent.flow import exactly
from tailrace.parts.tube.bent.galerkin import assembled, passed_on

HIGHEST = 27.0
"""rad/s, to which the peaks of these tests reach."""


@lru_cache(maxsize=64)
def section(dean, order):
    return assembled(exactly(dean, 1e-12)[0], order)


def response(chain, omega, order):
    """Flux average behind a chain that a band enters uniform over the section."""
    found, sections = [], [section(one.dean, order) for one in chain]
    for w in omega:
        state = np.eye(sections[0].size)[0].astype(complex)
        for place, (one, at) in enumerate(zip(chain, sections, strict=True)):
            if place:
                turned = one.turned != chain[place - 1].turned
                state = passed_on(sections[place - 1], at, turned) @ state
            rates = (at.exchange + 4 * one.strength * at.stirring).toarray()
            rates = rates + 1j * w * one.radial_time * np.eye(at.size)
            state = expm(-one.length * np.linalg.solve(at.axial.toarray(), rates)) @ state
        found.append((sections[-1].axial[[0], :] @ state)[0])
    return np.array(found)


def between(chain, omega, order, points=30):
    """The same from some frequencies, the mean time taken out between."""
    late = sum(one.residence for one in chain)
    nodes = chebyshev.chebpts1(points)
    at = (nodes + 1) / 2 * HIGHEST
    values = response(chain, at, order) * np.exp(1j * at * late)
    series = np.linalg.solve(chebyshev.chebvander(nodes, points - 1), values)
    low = np.minimum(omega, HIGHEST)
    found = chebyshev.chebval(2 * low / HIGHEST - 1, series) * np.exp(-1j * omega * late)
    return np.where(omega <= HIGHEST, found, 0.0)
