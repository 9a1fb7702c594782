"""Tableaux meet the conditions of the order that they claim (Hairer, Norsett and Wanner, II.2)."""

import numpy as np
import pytest

from tailrace.signals import tableau
from tailrace.signals.tableau import GAMMA, IMEX3_EXPLICIT, IMEX3_IMPLICIT, SDIRK2, SSP3


def conditions(one, other):
    """What weights, stages and times must add up to, up to the third order; pairs of numbers."""
    b, c, d = one.weights, one.times, other.times
    yield from ((b.sum(), 1), (b @ c, 1 / 2), (b @ d, 1 / 2))
    yield from ((b @ (c * d), 1 / 3), (b @ one.stages @ d, 1 / 6), (b @ other.stages @ d, 1 / 6))


@pytest.mark.parametrize(
    ("one", "other", "count"),
    [
        (SDIRK2, SDIRK2, 3),
        (SSP3, SSP3, 6),
        (IMEX3_EXPLICIT, IMEX3_IMPLICIT, 6),
        (IMEX3_IMPLICIT, IMEX3_EXPLICIT, 6),
    ],
)
def test_conditions_of_order(one, other, count):
    for found, expected in list(conditions(one, other))[:count]:
        assert found == pytest.approx(expected, abs=1e-14)


@pytest.mark.parametrize("name", ["SDIRK2", "IMEX3_EXPLICIT", "IMEX3_IMPLICIT"])
def test_the_last_stage_is_the_step(name):
    one = getattr(tableau, name)
    assert one.stages[-1] == pytest.approx(one.weights)


def test_the_method_along_the_tube_damps_what_is_stiff():
    # growth over a step of y' = z y, z towards minus infinity
    z = -1e12
    grown = 1 + z * SDIRK2.weights @ np.linalg.solve(np.eye(2) - z * SDIRK2.stages, np.ones(2))
    assert abs(grown) < 1e-3
    assert pytest.approx(1 - 2**-0.5) == GAMMA
