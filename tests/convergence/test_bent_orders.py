"""Orders of the bent tube's discretisations, each measured alone on what the march computes.

Section and length: moments of the discrete march, whose time steps do not matter to them. Two
grids are held against one twice as fine.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from reference.journeys import gaussian, itinerary, tube_with
from scipy.sparse import diags_array
from scipy.sparse.linalg import splu

from tailrace.journey import travel
from tailrace.measures.registry import HEIGHT, PLATES, VARIANCE, WIDTH
from tailrace.parts.tube.bent.grid import section_grid
from tailrace.parts.tube.bent.march import GAMMA, RATIO, _once
from tailrace.parts.tube.bent.resolution import Grid
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.parts.tube.bent.theory import cumulants
from tailrace.signals import Band

LENGTH = 0.1


def marched_moments(at, strength, steps):
    """Variance and third cumulant that the march adds, from its equations expanded in time."""
    change, hold = at.exchange(strength), at.area - at.flow
    along = GAMMA * LENGTH / steps
    lu = splu((diags_array(at.flow) + along * change).tocsc(), permc_spec="NATURAL")

    def stage(right):
        found = []
        for power, row in enumerate(right):
            before = along * hold * found[power - 1] if power else 0.0
            found.append(lu.solve(at.flow * row - before))
        return found

    state = [np.ones(at.nodes), *np.zeros((3, at.nodes))]
    for _ in range(steps):
        first = stage(state)
        state = stage([(1 - RATIO) * u + RATIO * y for u, y in zip(state, first, strict=True)])
    _, mean, second, third = (at.flow @ row for row in state)
    return np.array([2 * second - mean**2, -6 * third + 6 * mean * second - 2 * mean**3])


@pytest.mark.parametrize("strength", [0.0, 3e3, 2e4])
def test_the_section_is_of_second_order_and_of_fourth_when_extrapolated(strength):
    exact = np.array(cumulants(0.0, strength, LENGTH))
    answers = [marched_moments(section_grid(0.0, n, n), strength, 128) for n in (10, 20, 40)]
    single = [np.abs(answer / exact - 1) for answer in answers]
    assert np.all(single[0] > 3.5 * single[1])
    assert np.all(single[1] > 3.5 * single[2])
    both = [np.abs((4 * b - a) / 3 / exact - 1) for a, b in pairwise(answers)]
    assert np.all(both[0] < 3e-3)
    assert np.all(both[1] < 2.5e-4)


def test_steps_along_the_tube_are_of_second_order_and_of_third_when_extrapolated():
    at = section_grid(0.0, 16, 16)
    answers = [marched_moments(at, 3e3, steps)[0] for steps in (16, 32, 64, 128, 256)]
    changes = np.abs(np.diff(answers))
    orders = np.log2(changes[:-1] / changes[1:])
    assert orders[-1] == pytest.approx(2.0, abs=0.2)
    both = [(4 * b - a) / 3 for a, b in pairwise(answers)]
    changes = np.abs(np.diff(both))
    assert np.log2(changes[-2] / changes[-1]) > 2.7


def test_time_steps_are_of_second_order_and_of_fourth_when_extrapolated():
    chain = [Stretch(dean=0.0, strength=1e3, length=0.3, residence=1.0)]
    grid, answers = Grid(12, 12, (1,)), []
    for step in (0.04, 0.02, 0.01, 0.005):
        times = step * np.arange(-round(0.6 / step), round(0.6 / step) + 1)
        values = np.exp(-((times / 0.1) ** 2) / 2)
        band = _once(
            chain, Band(values[None], times[:1], np.array([step])), 0.1, grid, [2.1], 1, 1e-9
        )
        every = round(0.04 / step)
        answers.append(band.values[0][20 * every : 61 * every : every])
    orders = np.log2(
        [np.linalg.norm(b - a) / np.linalg.norm(c - b) for a, b, c in triples(answers)]
    )
    assert orders[-1] == pytest.approx(2.0, abs=0.1)
    both = [(4 * b - a) / 3 for a, b in pairwise(answers)]
    first, second = (np.linalg.norm(b - a) for a, b in pairwise(both))
    assert np.log2(first / second) == pytest.approx(4.0, abs=0.3)


def triples(answers):
    return zip(answers, answers[1:], answers[2:], strict=False)


def test_a_section_passes_on_what_enters_and_keeps_what_is_uniform():
    at = section_grid(30.0, 10, 8)
    change = at.exchange(5e3)
    assert np.abs(change.sum(axis=0)).max() < 1e-11 * abs(change).max()
    assert np.abs(change @ np.ones(at.nodes)).max() < 1e-11 * abs(change).max()
    assert at.area.sum() == pytest.approx(1.0, abs=1e-12)
    assert at.flow.sum() == pytest.approx(1.0, abs=1e-12)
    # diffusion loses variance, the secondary flow does not
    skew = (change - at.exchange(0.0)).toarray()
    assert np.abs(skew + skew.T).max() < 1e-10 * np.abs(skew).max()


def test_the_stated_error_covers_what_a_march_is_off_where_it_is_hardest():
    # C X = 4000: steps along the tube are of third order, and half as fine hardly coarser
    tube, passing = tube_with(0.4)
    passing = replace(passing, viscosity=0.6e6 * passing.diffusivity, density=1000.0)
    reynolds = float(tube.reynolds_number(passing))
    tube = replace(tube, bend_radius=float(tube.bore) / 2 * reynolds**2 * 600 / 1e4)
    path = itinerary(gaussian(0.05), tube, passing=passing)
    found = travel(path)
    other = travel(replace(path, resolution=replace(path.resolution, solver="spectral")))
    for name in (PLATES, WIDTH, VARIANCE, HEIGHT):
        off = abs(float(found.recorded[name][0] - other.recorded[name][0]))
        assert off < found.numerical_error[name][0], name
