"""Plate heights of packings against published ranges and theory worked out another way."""

from dataclasses import replace

import numpy as np
import pytest
from reference.journeys import FLOW, bands_behind, gaussian, stream
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from tailrace.measures import moments
from tailrace.parts.column.packing import EDDY, core_factor, effective_medium
from tailrace.parts.column.part import Column
from tailrace.parts.column.theory import theory


def packed(particle="core-shell", **others):
    size = {"bore": 4.6e-3, "length": 0.1, "particle_diameter": 2.7e-6}
    return Column(name="column", particle=particle, **(size | others))


def at(part, velocity, **others):
    """The stream with this reduced velocity."""
    return stream(float(part.reduced_velocity(stream(1.0))) / velocity, **others)


def height(part, velocity, k=2.0):
    passing = at(part, velocity, retention_factor=k)
    return float(part.length / part.plate_number(passing) / part.particle_diameter)


# Broeckhoven, Cooter and Desmet, J. Pharm. Anal. 3 (2013) 313: fully porous "h = 2 the norm",
# core-shell "routinely 1.5 to 1.8", some 1.1 to 1.3; fully porous to 2.4 from memory.
@pytest.mark.parametrize(
    ("particle", "low", "high"), [("fully porous", 1.8, 2.4), ("core-shell", 1.3, 1.8)]
)
@pytest.mark.parametrize("k", [1.0, 1.5, 2.0])
def test_least_plate_height(particle, low, high, k):
    part = packed(particle)
    best = minimize_scalar(lambda v: height(part, v, k), bounds=(0.5, 30), method="bounded")
    assert low <= best.fun <= high
    # reduced velocities of the optimum: 3 to 10 between the particles (common practice, no source)
    assert 3 < best.x < 10


# b = (a - 1)/(a + 2), (1 + 2 b f)/(1 - b f), worked by hand at f = 0.6
@pytest.mark.parametrize(
    ("permeability", "expected"),
    [(0.0, 0.307692), (0.2, 0.462687), (0.5, 0.678571), (1.0, 1.0), (2.0, 1.529412)],
)
def test_effective_medium_of_maxwell(permeability, expected):
    assert effective_medium(permeability, 0.6) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("core", [0.0, 0.3, 0.63, 0.7, 0.74, 0.95])
def test_core_factor_by_solving_diffusion_in_the_shell(core):
    # r^2 w' = (r^3 - p^3)/3 solves a uniform source in a shell closed at the core; the mean of w
    # over the shell is the time by which the shell lags, 1/15 for a whole sphere
    solved, _ = quad(lambda r: (r**3 - core**3) ** 2 / (9 * r**2) if r > 0 else 0.0, core, 1)
    share = 1 - core**3
    lag = 3 * solved / share
    assert core_factor(core) == pytest.approx(15 * lag / share, rel=1e-9)


def test_a_core_lowers_the_term_of_slow_exchange_and_that_of_diffusion_along():
    k, fast, slow = 2.0, 40.0, 0.5
    cores = (0.63, 0.7, 0.74)
    exchange = [
        float(part.heights(at(part, fast, retention_factor=k))[1])
        for part in (packed(core_ratio=core) for core in cores)
    ]
    assert exchange[0] > exchange[1] > exchange[2]
    # fully porous against core-shell: B about 20 to 30 % smaller (Gritti and Guiochon, J.
    # Chromatogr. A 1217 (2010) 1589; from memory)
    along = []
    for part in (packed("fully porous"), packed()):
        dispersion, _ = part.heights(at(part, slow, retention_factor=k))
        along.append(float(dispersion) - EDDY[part.particle] * np.cbrt(slow))
    assert 0.65 < along[1] / along[0] < 0.85


def test_plates_hold_at_their_flow_and_follow_the_curve_elsewhere():
    curve = packed()
    stated = packed(plates=15000.0, plates_flow=2 * FLOW)
    here = stream(retention_factor=2.0)
    there = replace(here, flow_rate=2 * FLOW)
    assert stated.plate_number(there) == pytest.approx(15000.0, rel=1e-12)
    ratio = curve.plate_number(here) / curve.plate_number(there)
    assert stated.plate_number(here) == pytest.approx(15000.0 * ratio, rel=1e-12)


def test_usual_porosity_is_carried_to_another_core():
    # what is not core keeps its porosity: 0.12 of the bed at a core of 0.7
    part = packed(core_ratio=0.63)
    assert part.total_porosity == pytest.approx(0.4 + 0.12 * (1 - 0.63**3) / (1 - 0.7**3))
    assert packed().total_porosity == pytest.approx(0.52, rel=1e-12)


def test_certified_plates_include_the_heads():
    part = packed(plates=11000.0, head_volume=0.2 * FLOW)
    for k in (0.5, 2.0, 8.0):
        passing = stream(retention_factor=k)
        first, last = bands_behind((gaussian(1e-3), passing), (part, passing))
        before, after = moments(first), moments(last)
        mean, variance = after.mean - before.mean, after.variance - before.variance
        assert mean**2 / variance == pytest.approx(11000, rel=1e-3)
        text = theory(part, passing)
        assert text.mean**2 / text.variance == pytest.approx(11000, rel=1e-9)


def test_certified_plates_include_the_heads_at_their_own_flow():
    part = packed(plates=11000.0, head_volume=0.2 * FLOW, plates_flow=FLOW / 2)
    slow = replace(stream(retention_factor=2.0), flow_rate=FLOW / 2)
    text = theory(part, slow)
    assert text.mean**2 / text.variance == pytest.approx(11000, rel=1e-9)


def test_heads_are_two_stirred_volumes():
    part = packed(plates=5000.0, head_volume=0.2 * FLOW, plates_include_head=False)
    bare = packed(plates=5000.0)
    passing = stream(retention_factor=2.0)
    first, last = bands_behind((gaussian(1.0), passing), (part, passing))
    before, after = moments(first), moments(last)
    text, plain = theory(part, passing), theory(bare, passing)
    # an exponential of 0.2 s adds its mean, square and twice its cube (textbook)
    assert text.mean - plain.mean == pytest.approx(0.4, rel=1e-9)
    assert text.variance - plain.variance == pytest.approx(2 * 0.04, rel=1e-9)
    assert text.third - plain.third == pytest.approx(2 * 2 * 0.008, rel=1e-6)
    assert after.mean - before.mean == pytest.approx(float(text.mean), rel=1e-9)
    assert after.variance - before.variance == pytest.approx(float(text.variance), rel=1e-6)
