"""Transfer functions of all kinds: their derivatives at zero, and solutions made elsewhere."""

from dataclasses import replace

import numpy as np
import pytest
from reference import transfer as known
from reference.journeys import gaussian, plug, stream, tube_with
from scipy.linalg import expm

from tailrace.journey.product import cumulants_of, spectrum
from tailrace.parts import KINDS
from tailrace.parts.cell.part import Cell
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.column.part import Column
from tailrace.parts.detector.part import Detector
from tailrace.parts.fitting.part import Fitting
from tailrace.parts.injector.part import Injector
from tailrace.parts.injector.points import Points
from tailrace.parts.tee.part import Tee
from tailrace.parts.tube import spectrum as tables
from tailrace.parts.tube.bent import between, responses, spectral
from tailrace.parts.tube.bent.spectrum import ERROR
from tailrace.parts.tube.bent.theory import chain_cumulants
from tailrace.parts.tube.loop.part import Loop
from tailrace.parts.tube.part import Tube
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution


def column(**others):
    given = {"bore": 2.1e-3, "length": 0.1, "particle_diameter": 2.7e-6, "plates": 9000.0} | others
    return Column(name="column", **given)


RETAINED = stream(retention_factor=2.0)
PARTS = {
    "plug": (plug(2.0), stream()),
    "washout": (Injector(shape="washout", volume=1e-8, washout_volume=4e-9), stream()),
    "gaussian": (gaussian(0.3), stream()),
    "signal": (
        Injector(
            shape="signal",
            signal_times=np.linspace(0.0, 2.0, 9),
            signal_heights=np.array([0.0, 0.2, 2.0, 4.0, 2.5, 1.2, 0.6, 0.2, 0.0]),
        ),
        stream(),
    ),
    "short tube": tube_with(0.004),
    "tube": tube_with(0.13),
    "long tube": tube_with(7.0),
    "gap": (Fitting(name="joint", gap_bore=1e-3, gap_length=2e-4), stream()),
    "pocket": (Fitting(name="joint", gap_bore=1e-3, gap_length=2e-4, unswept=0.4), stream()),
    "chamber": (Chamber(name="mixer", volume=5e-9, tanks=2.5), stream()),
    "cell": (Cell(name="cell", volume=5e-9, tanks=3), stream()),
    "mean of the cell": (Cell(name="cell", volume=5e-9, tanks=3, read="mean"), stream()),
    "full loop": (Loop(volume=5e-9, bore=2.5e-4, length=0.1019), stream()),
    "end of a loop": (Loop(volume=5e-9, bore=2.5e-4, length=0.4, emptied="forwards"), stream()),
    "tee": (Tee(name="tee", volume=5e-9, make_up=1e-8), stream()),
    "column that tails": (column(column_tailing=1.2), RETAINED),
    "column": (column(), RETAINED),
    "column with heads": (column(head_volume=4e-8, plates_include_head=False), RETAINED),
    "column with slow exchange": (column(kinetics="lumped", mass_transfer_rate=400.0), RETAINED),
    "column with two kinds of site": (
        column(kinetics="two-site", slow_share=0.1, slow_rate=20.0),
        RETAINED,
    ),
    "detector": (Detector(time_constant=0.2, moving_average=0.3), stream()),
    "averaging detector": (Detector(time_constant=0.2, interval=0.3, averaged=True), stream()),
}


def spectrum_of(part, passing, omega):
    return KINDS[part.kind].transfer(part, passing.over(1), np.atleast_2d(omega))[0]


def test_every_kind_is_among_them():
    assert {part.kind for part, _ in PARTS.values()} == set(KINDS)


@pytest.mark.parametrize("name", PARTS)
def test_derivatives_at_zero_are_the_cumulants(name):
    part, passing = PARTS[name]
    text = KINDS[part.kind].theory(part, passing.over(1))
    mean, variance, third = float(text.mean[0]), float(text.variance[0]), float(text.third[0])
    deviation = np.sqrt(variance)
    # what the logarithm has beside its mean, in even powers of the frequency
    reduced = 0.35 / max(1.0, third / deviation**3) * np.sin(np.linspace(0.15, np.pi / 2, 24))
    omega = reduced / deviation
    found = np.log(spectrum_of(part, passing, omega) * np.exp(1j * omega * mean))
    powers = reduced[:, None] ** (2 * np.arange(6))
    real = np.linalg.lstsq(powers, found.real / reduced**2, rcond=None)[0]
    odd = np.linalg.lstsq(powers, found.imag / reduced, rcond=None)[0]
    assert spectrum_of(part, passing, np.zeros(1))[0] == pytest.approx(1.0, abs=1e-12)
    assert odd[0] == pytest.approx(0.0, abs=2e-6)
    assert -2 * real[0] == pytest.approx(1.0, rel=2e-5)
    assert 6 * odd[1] == pytest.approx(third / deviation**3, rel=1e-3, abs=1e-5)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("plug", lambda w: known.plug(w, 2.0)),
        ("gaussian", lambda w: known.gaussian(w, 0.3)),
        ("chamber", lambda w: known.tanks(w, 0.5, 2.5)),
        ("cell", lambda w: known.tanks(w, 0.5, 3)),
        ("mean of the cell", lambda w: known.tanks_mean(w, 0.5, 3)),
        ("tube", lambda w: known.tube(w, 0.13, 1.0)),
        ("long tube", lambda w: known.tube(w, 7.0, 1.0)),
        (
            "column",
            lambda w: known.column(w, float(column().retention_time(RETAINED)), 9000.0),
        ),
        (
            "detector",
            lambda w: known.tanks(w, 0.2, 1) * known.plug(w, 0.3),
        ),
    ],
)
def test_they_are_what_the_tests_own_solutions_are(name, expected):
    omega = np.linspace(0.0, 30.0, 61)
    assert np.abs(spectrum_of(*PARTS[name], omega) - expected(omega)).max() < 1e-6


def test_a_pocket_is_a_core_in_balance_with_a_slab():
    part, passing = PARTS["pocket"]
    omega = np.linspace(0.0, 30.0, 61)
    whole = float(part.residence(passing))
    filling = float(part.filling_time(passing))
    expected = known.joint(omega, 0.6 * whole, 0.4 * whole, filling)
    assert np.abs(spectrum_of(part, passing, omega) - expected).max() < 1e-12


def test_a_signal_is_the_integral_of_its_curve():
    part, passing = PARTS["signal"]
    points = Points(*part.curve)
    curve = points.joined()
    times = np.linspace(curve.x[0], curve.x[-1], 200_001)
    heights = points.matched(times, curve(times))
    for w in (0.0, 1e-4, 0.9, 17.0):
        expected = np.trapezoid(heights * np.exp(-1j * w * times)) / np.sum(heights)
        assert spectrum_of(part, passing, np.array([w]))[0] == pytest.approx(expected, abs=1e-6)


def bent_tube(strength, schmidt, fourier):
    """De^2 nu/D, nu/D and X given; and its only stretch."""
    tube, passing = tube_with(fourier)
    passing = replace(passing, viscosity=1e3 * schmidt * passing.diffusivity, density=1000.0)
    reynolds = float(tube.reynolds_number(passing))
    tube = replace(tube, bend_radius=float(tube.bore) / 2 * reynolds**2 * schmidt / strength)
    return tube, passing, tube.chains(passing.over(1))[0]


@pytest.mark.parametrize(
    "of", [(500.0, 1e6, 0.3), (2e4, 400.0, 0.1)], ids=["slow", "fast and stirred"]
)
def test_a_bent_tube_is_what_its_cumulants_and_the_spectral_way_say(of):
    tube, passing, chain = bent_tube(*of)
    assert not tube.no_transfer(passing)
    variance, third = chain_cumulants(tuple(chain))
    u = np.concatenate([np.linspace(0.05, 0.6, 12), np.linspace(1.0, 20.0, 20)])
    omega = np.concatenate([[0.0], u]) / np.sqrt(variance)
    found = spectrum_of(tube, passing, omega)
    expected = spectral.transfer(chain, omega, np.ones(omega.size))
    expected *= np.exp(-1j * omega * chain[0].transit)
    assert tube.known(passing) == ERROR
    assert np.abs(found - expected).max() < ERROR / 3
    solved = between.response([tuple(chain)], omega[None])[0]
    assert np.abs(solved - expected).max() < responses.ERROR / 3
    near = np.log(found[1:13] * np.exp(1j * omega[1:13]))  # a residence time of 1
    powers = u[:12, None] ** (2 * np.arange(4))
    real = np.linalg.lstsq(powers, near.real / u[:12] ** 2, rcond=None)[0]
    odd = np.linalg.lstsq(powers, near.imag / u[:12] ** 3, rcond=None)[0]
    assert -2 * real[0] == pytest.approx(1.0, rel=1e-4)
    assert 6 * odd[0] == pytest.approx(third / variance**1.5, rel=1e-3)
    # closed form is read from the same table
    many = KINDS["tube"].theory(tube, passing.over(40))
    assert np.array(many.variance) == pytest.approx(np.full(40, variance), rel=1e-4)
    assert np.array(many.third) == pytest.approx(np.full(40, third), rel=5e-4)


def several_bends():
    """A tube that bends both ways, and a wider one behind it that takes over its profile."""
    tube, passing, _ = bent_tube(400.0, 1e5, 0.3)
    length, radius = float(tube.length), tube.bend_radius
    ways = (
        (0.4 * length, radius, False),
        (0.4 * length, 2 * radius, True),
        (0.2 * length, np.inf, False),
    )
    first = replace(tube, bend_radius=np.inf, bends=ways)
    wider = replace(first, bends=(), bend_radius=radius, bore=1.5 * tube.bore, length=length / 3)
    return first, replace(wider, name="wider", inlet="carried over"), passing.over(1)


def test_bends_behind_each_other_and_profiles_carried_over_are_their_cumulants():
    first, wider, passing = several_bends()
    path = [(first.handing_on(), passing), (wider, passing)]
    assert not any(part.no_transfer(stream) for part, stream in path)
    mean, variance, third = (
        float(sum(getattr(one, name)[0] for one in cumulants_of(path)))
        for name in ("mean", "variance", "third")
    )
    u = np.linspace(0.05, 0.6, 12)
    omega = u / np.sqrt(variance)
    near = np.log(spectrum(path, omega[None])[0] * np.exp(1j * omega * mean))
    powers = u[:, None] ** (2 * np.arange(4))
    real = np.linalg.lstsq(powers, near.real / u**2, rcond=None)[0]
    odd = np.linalg.lstsq(powers, near.imag / u**3, rcond=None)[0]
    assert -2 * real[0] == pytest.approx(1.0, rel=1e-4)
    assert 6 * odd[0] == pytest.approx(third / variance**1.5, rel=1e-3)


def test_bends_behind_each_other_are_what_a_march_makes_of_them():
    first, wider, passing = several_bends()
    path = [(first.handing_on(), passing), (wider, passing)]
    step = 0.02 * float(first.residence(passing)[0])
    times = step * np.arange(-40, 41)
    entering = Band(
        np.exp(-((times / step / 8) ** 2) / 2)[None] / step, times[:1], np.array([step])
    )
    left = entering
    for part, flows in path:
        left = KINDS[part.kind].march(part, flows, left, Resolution())
    omega = np.linspace(0.0, 0.6, 7) / (8 * step)
    out, into = (
        (one.values[0] * np.exp(-1j * omega[:, None] * one.times[0])).sum(axis=1) * one.step[0]
        for one in (left, entering)
    )
    assert np.abs(spectrum(path, omega[None])[0] * into - out).max() < 3e-4 * abs(into[0])


def test_slow_exchange_tends_to_equilibrium():
    omega = np.linspace(0.0, 1.0, 21)
    slow = column(kinetics="lumped", mass_transfer_rate=1e7)
    assert spectrum_of(slow, RETAINED, omega) == pytest.approx(
        spectrum_of(column(), RETAINED, omega), abs=1e-4
    )


def exponential(rate, fourier, terms):
    """The transfer function in time from the transit on the axis: no eigenvalues are taken."""
    nodes, weights = np.polynomial.legendre.leggauss(2 * terms + 2)
    x, weights = (nodes + 1) / 2, weights / 2
    scale = np.sqrt(2 * np.arange(terms) + 1)[:, None]
    value = np.polynomial.legendre.legvander(nodes, terms - 1).T * scale
    slope = scale * np.array(
        [
            2 * np.polynomial.legendre.legval(nodes, np.polynomial.legendre.legder(row))
            for row in np.eye(terms)
        ]
    )
    flow = (value * (weights * 2 * (1 - x))) @ value.T
    exchange = (slope * (weights * 4 * x)) @ slope.T
    system = np.linalg.solve(flow, -exchange - 1j * rate * (np.eye(terms) - flow / 2))
    first = np.eye(terms)[0]
    return flow[0] @ expm(system * fourier) @ first


def test_random_entries_of_the_table_are_matrix_exponentials():
    random = np.random.default_rng(14)
    for _ in range(60):
        fourier = np.exp(random.uniform(np.log(tables.LEAST), np.log(tables.MOST)))
        reach = np.arcsinh(tables.highest(fourier) / tables.bend(fourier))
        y = float(tables.bend(fourier) * np.sinh(random.uniform() * reach))
        if y / fourier > 3e5:  # takes too many terms here
            continue
        part, passing = tube_with(fourier)
        found = spectrum_of(part, passing, np.array([y]))[0] * np.exp(0.5j * y)
        terms = (16, 22, 32, 60, 90)[np.searchsorted((30, 300, 3e3, 3e4), y / fourier)]
        expected = exponential(y / fourier, fourier, terms)
        assert abs(found - expected) < 1e-7
        assert abs(found - expected) < 3e-4 * abs(expected) + 1e-10


def test_beyond_the_rates_solved_for_the_axis_alone_counts():
    for fourier in (3e-3, 6e-3, 0.01):
        part, passing = tube_with(fourier)
        rate = 3 * 3e6
        found = spectrum_of(part, passing, np.array([rate * fourier]))[0]
        found *= np.exp(0.5j * rate * fourier)
        expected = exponential(rate, fourier, 150)
        assert abs(found - expected) < 1e-3 * abs(expected) + 1e-12


def test_of_tubes_that_are_not_in_the_table_no_transfer_function_is_had():
    part, passing = tube_with(0.5 * tables.LEAST)
    assert "Fourier number" in part.no_transfer(passing)
    bends = ((0.1, 0.02, False), (0.1, 0.05, False))
    bent = Tube(name="tube", bore=1e-4, length=0.2, bends=bends)
    assert "De^2 Sc above" in bent.no_transfer(replace(stream(), flow_rate=3e-8))
    assert not bent.no_transfer(stream())
    assert not tube_with(1.0)[0].no_transfer(tube_with(1.0)[1])


def test_an_overloaded_column_has_none():
    loaded = column(capacity=1e-6)
    assert "overloaded" in loaded.no_transfer(stream(amount=1e-8, retention_factor=2.0))
    assert not loaded.no_transfer(RETAINED)


def test_lanes_are_apart():
    tube = Tube(name="tube", bore=np.array([1e-4, 2e-4]), length=np.array([0.1, 0.5]))
    omega = np.array([[0.0, 3.0], [0.0, 7.0]])
    both = KINDS["tube"].transfer(tube, stream().over(2), omega)
    for lane in (0, 1):
        one = Tube(name="tube", bore=tube.bore[lane], length=tube.length[lane])
        assert both[lane] == pytest.approx(spectrum_of(one, stream(), omega[lane]), rel=1e-13)
