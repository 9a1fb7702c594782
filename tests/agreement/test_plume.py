"""What is in a tube: the amount it holds, the march, finite volumes, Taylor's closed form."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from reference.journeys import bands_behind, gaussian, plug, relative_l2, tube_with
from reference.plume import ring_means
from scipy.interpolate import CubicSpline
from scipy.special import ndtr

from tailrace.parts.tube.fields import tube_field
from tailrace.signals.cubic import sample

RINGS, SECTIONS = 12, 40


def field_of(inlet, fourier, times, rings=RINGS, sections=SECTIONS, until=None):
    tube, passing = tube_with(fourier)
    return tube_field(tube, passing.over(1), inlet, np.asarray(times), rings, sections, until)


def volumes(rings=RINGS, sections=SECTIONS):
    """Shares of the tube's volume; its residence time is 1."""
    return np.diff(np.linspace(0, 1, rings + 1) ** 2)[:, None] / np.full(sections, float(sections))


def amount(band):
    """Integral of a band up to a time, by a spline through its samples."""
    times = band.times[0]
    whole = CubicSpline(times, band.values[0]).antiderivative()
    return lambda time: whole(np.clip(time, times[0], times[-1]))


@pytest.mark.parametrize("fourier", [0.03, 0.1, 0.3, 1.0, 3.0, 10.0])
@pytest.mark.parametrize(
    ("injection", "entered"),
    [
        (gaussian(0.02), lambda time: ndtr(time / 0.02)),
        (gaussian(0.5), lambda time: ndtr(time / 0.5)),
        (plug(0.2), lambda time: np.clip(time / 0.2, 0, 1)),
        (plug(1.0), lambda time: np.clip(time, 0, 1)),
    ],
    ids=["sharp", "wide", "short plug", "long plug"],
)
def test_what_entered_is_in_the_tube_or_has_left(fourier, injection, entered):
    _, passing = tube_with(fourier)
    # an edge is blurred over two steps of the band: fine enough that no moment is near one
    (inlet,) = bands_behind((injection, passing), refinement=2 if injection.shape == "plug" else 1)
    times = np.array([0.1, 0.5, 0.9, 1.7, 2.6])
    field = field_of(inlet, fourier, times)
    held = np.tensordot(field.values, volumes(), 2)
    assert np.max(np.abs(held + field.left - entered(times))) < 1e-6
    assert field.left == pytest.approx(amount(field.outlet)(times), abs=2e-5)
    assert np.all(np.diff(field.left) > -1e-6)


@pytest.mark.parametrize("fourier", [0.03, 0.3, 3.0])
@pytest.mark.parametrize("width", [0.03, 0.5])
def test_outlet_is_that_of_the_march_within_its_error(fourier, width):
    tube, passing = tube_with(fourier)
    path = ((gaussian(width), passing), (tube, passing))
    inlet, fine = bands_behind(*path)
    coarse = bands_behind(*path, refinement=0.5)[1]
    error = relative_l2(sample(coarse, fine.times), fine.values)
    outlet = field_of(inlet, fourier, [1.0], until=float(fine.times[0, -1])).outlet
    assert relative_l2(sample(fine, outlet.times), outlet.values) < error


@pytest.mark.parametrize("fourier", [0.03, 0.3, 3.0])
def test_amounts_along_the_tube_are_those_of_the_march(fourier):
    # what a shorter tube has let out by then is what lies behind its end
    _, passing = tube_with(fourier)
    (inlet,) = bands_behind((gaussian(0.05), passing))
    times = np.array([0.3, 0.8, 1.5])
    field = field_of(inlet, fourier, times)
    for sections in (10, 20, 30):
        share = sections / SECTIONS
        shorter, passing = tube_with(share * fourier, residence=share)
        out = bands_behind((gaussian(0.05), passing), (shorter, passing))[1]
        held = np.tensordot(field.values[:, :, :sections], volumes()[:, :sections], 2)
        assert held == pytest.approx(field.entered - amount(out)(times), abs=1e-4)


@pytest.mark.parametrize(
    ("fourier", "place", "moment"), [(0.1, 0.5, 0.5), (0.1, 0.2, 0.6), (1.0, 0.7, 0.8)]
)
def test_profile_over_the_radius_is_that_of_finite_volumes(fourier, place, moment):
    sigma, rings, sections = 0.1, 16, 250
    _, passing = tube_with(fourier)
    (inlet,) = bands_behind((gaussian(sigma), passing))
    field = field_of(inlet, fourier, [moment], rings, sections)
    section = round(place * sections)
    found = field.values[0, :, section - 1 : section + 1].mean(axis=1)
    coarse, fine = (
        widened(ring_means(sigma, fourier, place, moment, times * rings), times) for times in (2, 4)
    )
    expected = (4 * fine - coarse) / 3  # finite volumes are of second order
    assert np.ptp(expected) > 0.1 * inlet.values.max()
    assert found == pytest.approx(expected, abs=2e-4 * inlet.values.max())


def widened(values, times):
    """Means over rings that are so many times wider."""
    areas = np.diff(np.linspace(0, 1, len(values) + 1) ** 2).reshape(-1, times)
    return (values.reshape(-1, times) * areas).sum(axis=1) / areas.sum(axis=1)


def test_a_long_tube_has_taylors_profile():
    # G. I. Taylor, Proc. R. Soc. A 219 (1953) 186 (from memory; derived again by hand):
    # c - mean = (a^2 U / 4 D) d(mean)/dz (q^2 - q^4 / 2 - 1 / 3), q = r/a; exact as X grows
    fourier, rings, sections = 100.0, 20, 100
    _, passing = tube_with(fourier)
    (inlet,) = bands_behind((gaussian(0.3), passing))
    values = field_of(inlet, fourier, [0.5], rings, sections).values[0]
    edges = np.linspace(0, 1, rings + 1)
    area = np.diff(edges**2)
    mean = area @ values
    shape = np.diff(edges**4 / 2 - edges**6 / 6) / area - 1 / 3
    slope = np.gradient(mean, 1 / sections)
    expected = np.outer(shape, slope) / (4 * fourier)
    found = values - mean
    assert relative_l2(found[:, 5:-5], expected[:, 5:-5]) < 0.02


TIMES = np.array([0.3, 0.5, 0.8, 1.5])


@cache
def bent_field(**lies):
    """What is in a tube of X = 0.1, by default with De^2 nu/D = 2000, and the tube and inlet."""
    tube, passing = tube_with(0.1)
    passing = replace(passing, viscosity=0.6e6 * passing.diffusivity, density=1000.0)
    (inlet,) = bands_behind((gaussian(0.1), passing))
    reynolds = float(np.ravel(tube.reynolds_number(passing))[0])
    radius = float(tube.bore) / 2 * reynolds**2 * 600 / 2e3
    if "turned" in lies:
        lies = {"bends": ((1.0, radius, True),)}
    tube = replace(tube, **(lies or {"bend_radius": radius}))
    return tube_field(tube, passing.over(1), inlet, TIMES, RINGS, SECTIONS), tube, passing, inlet


def test_a_profile_handed_on_is_that_of_the_other_field():
    field, tube, passing, inlet = bent_field(hands_on=True)
    mixed = replace(tube, hands_on=False)
    straight = tube_field(mixed, passing.over(1), inlet, TIMES, RINGS, SECTIONS)
    assert field.values == pytest.approx(straight.values, abs=1e-4 * straight.values.max())
    assert field.plane == pytest.approx(field.plane[:, ::-1], abs=1e-6)


def test_amounts_along_a_bent_tube_are_those_of_its_march():
    field, tube, passing, _ = bent_field()
    held = np.tensordot(field.values, volumes(), 2)
    assert held == pytest.approx(field.entered - field.left, abs=1e-6)
    shorter = replace(tube, length=0.5 * tube.length)
    out = bands_behind((gaussian(0.1), passing), (shorter, passing))[1]
    half = SECTIONS // 2
    held = np.tensordot(field.values[:, :, :half], volumes()[:, :half], 2)
    assert held == pytest.approx(field.entered - amount(out)(TIMES), abs=5e-4)


def test_sections_hold_what_their_rings_hold_and_turn_with_the_bend():
    field, turned = bent_field()[0], bent_field(turned=True)[0]
    assert turned.across == pytest.approx(field.across[..., ::-1], abs=1e-6, nan_ok=True)
    assert turned.plane == pytest.approx(field.plane[:, ::-1], abs=1e-6)
    disc = field.across[1, 2]
    inside = np.isfinite(disc)
    mean = np.diff(np.linspace(0, 1, RINGS + 1) ** 2) @ field.values[1, :, SECTIONS // 2]
    assert disc[inside].mean() == pytest.approx(mean, rel=0.02)
    assert disc[inside] == pytest.approx(disc[::-1][inside], abs=1e-9)
