"""How responses of bent tubes change with their numbers, against differences of all terms."""

from dataclasses import replace

import numpy as np
import pytest
from reference.bends import response

from tailrace.parts.tube.bent.expansion import NUMBERS, Tabulated, expanded, neighbours
from tailrace.parts.tube.bent.flow import exactly
from tailrace.parts.tube.bent.galerkin import assembled
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.parts.tube.bent.theory import at_lengths

WITHIN, STEP = 1e-6, 3e-3
GENTLE = Stretch(dean=1.5, strength=250.0, length=0.3, residence=1.0)
CASES = {
    "gentle": ((GENTLE,), 14, [1.5]),
    "stirred": ((Stretch(dean=5.0, strength=4e3, length=0.1, residence=1.0),), 34, [2.0, 15.0]),
    "turned": (
        (
            Stretch(dean=6.0, strength=900.0, length=0.08, residence=1.0),
            Stretch(dean=9.0, strength=1500.0, length=0.05, residence=0.7, turned=True),
        ),
        26,
        [3.0, 12.0],
    ),
}


def moved(chain, place, name, share):
    one = chain[place]
    if name in ("length", "radial_time"):
        one = replace(one, residence=one.residence * (1 + share))
    if name != "radial_time":
        one = replace(one, **{name: getattr(one, name) * (1 + share)})
    return (*chain[:place], one, *chain[place + 1 :])


def slope(of, chain, place, number):
    """Central differences, and Richardson."""
    near, far = (
        (of(moved(chain, place, number, h)) - of(moved(chain, place, number, -h))) / h
        for h in (STEP, 2 * STEP)
    )
    return (4 * near - far) / 6


@pytest.mark.parametrize("name", CASES)
def test_slopes_of_responses_are_those_of_all_terms(name):
    chain, order, omega = CASES[name]
    omega = np.array(omega)
    found = expanded(chain, float(omega.max()))
    assert found.response(chain, omega) == pytest.approx(
        response(chain, omega, order), abs=WITHIN / 10
    )
    for place in range(len(chain)):
        for number in NUMBERS:
            own = slope(lambda one: found.response(one, omega), chain, place, number)
            wanted = slope(lambda one: response(one, omega, order), chain, place, number)
            assert own == pytest.approx(wanted, abs=WITHIN), (place, number)


@pytest.mark.parametrize("name", ["gentle", "stirred"])
def test_slopes_of_what_is_read_are_those_of_all_terms(name):
    """As close as the table itself: 1e-4 of what passes at rest."""
    chain, order, omega = CASES[name]
    omega = np.array(omega)
    found = neighbours(chain, float(omega.max()))
    assert isinstance(found, Tabulated)
    for number in NUMBERS:
        own = slope(lambda one: found.response(one, omega), chain, 0, number)
        wanted = slope(lambda one: response(one, omega, order), chain, 0, number)
        assert own == pytest.approx(wanted, abs=1e-4), number
    near, exact = (one.added(chain) for one in (found, expanded(chain, float(omega.max()))))
    assert near == pytest.approx(exact, rel=1e-4)
    beside = moved(chain, 0, "length", 1e-3)
    assert found.added(beside) - near == pytest.approx(
        expanded(chain, float(omega.max())).added(beside) - exact, rel=1e-3
    )


def test_what_is_not_in_the_table_is_expanded():
    short = (replace(GENTLE, length=0.02, residence=0.1),)
    assert not isinstance(neighbours(short, 10.0), Tabulated)


def test_cumulants_are_those_of_moment_equations():
    found, at = expanded((GENTLE,), 1.0), assembled(exactly(GENTLE.dean, 1e-12)[0], 14)

    def moments(chain):
        (one,) = chain
        solved = at_lengths(at, one.strength, np.array([one.length]), steps=24)[0]
        return solved * one.radial_time ** np.array([2, 3])

    values = moments((GENTLE,))
    assert found.added((GENTLE,)) == pytest.approx(values, rel=WITHIN)
    for number in ("strength", "length", "radial_time"):
        own, wanted = (slope(of, (GENTLE,), 0, number) for of in (found.added, moments))
        assert np.abs(own - wanted) == pytest.approx(0.0, abs=WITHIN * values.min()), number
