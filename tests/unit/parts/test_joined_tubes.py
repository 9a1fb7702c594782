"""Tubes behind each other whose joints do not mix."""

from dataclasses import replace

import numpy as np
import pytest

from tailrace.eluent.stream import Stream
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.travelling import travel
from tailrace.parts import KINDS
from tailrace.parts.base import joined_to
from tailrace.parts.fitting.part import Fitting
from tailrace.parts.injector.part import Injector
from tailrace.parts.tube.part import CARRIED_OVER, Tube
from tailrace.signals import Resolution
from tailrace.signals.band import Band, Upstream

STREAM = Stream(
    flow_rate=0.5e-6 / 60, diffusivity=np.array([1.2e-9]), viscosity=6.5e-4, density=1000.0
)
TUBE = Tube(name="tube", bore=0.12e-3, length=0.4)
SOLVERS = ("finite differences", "spectral")
INJECTION = Injector(shape="gaussian", sigma=0.02)


def joined(*tubes):
    """Tubes as a scenario makes them where each but the first is entered by a profile."""
    last = len(tubes) - 1
    return [
        replace(
            tube,
            name=f"tube {at}",
            inlet=CARRIED_OVER if at else "mixed",
            hands_on=at < last,
        )
        for at, tube in enumerate(tubes)
    ]


def journey(*parts, solver="finite differences", stream=STREAM):
    passages = ((INJECTION, stream), *((part, stream) for part in parts))
    return travel(
        Itinerary(
            lanes=("a",) * stream.lanes, passages=passages, resolution=Resolution(solver=solver)
        )
    )


def within_errors(one, other):
    for name, error in one.numerical_error.items():
        both = error + other.numerical_error[name]
        assert np.all(np.abs(one.recorded[name] - other.recorded[name]) <= both), name


@pytest.mark.parametrize("solver", SOLVERS)
@pytest.mark.parametrize("radius", [np.inf, 0.3])
def test_two_halves_are_the_whole(radius, solver):
    whole = replace(TUBE, bend_radius=radius)
    half = replace(whole, length=0.2)
    one, two = journey(whole, solver=solver), journey(*joined(half, half), solver=solver)
    within_errors(one, two)
    mixed = journey(half, replace(half, name="other"), solver=solver)
    # a straight tube forgets what is mixed; a bend has gone too far where it is half turned about
    assert abs(mixed.recorded["variance"] / two.recorded["variance"] - 1) > 0.08


@pytest.mark.parametrize("solver", SOLVERS)
@pytest.mark.parametrize("radius", [np.inf, 0.3])
def test_a_chain_adds_its_exact_cumulants_part_by_part(radius, solver):
    # a union's bore, wider than the tubes, between two of them
    bore = Tube(name="bore", bore=0.25e-3, length=0.01)
    tubes = joined(replace(TUBE, length=0.1, bend_radius=radius), bore, replace(TUBE, length=0.2))
    passages = [(INJECTION, STREAM), *((tube, STREAM) for tube in tubes)]
    found = journey(*tubes, solver=solver).parts[1:]
    for at, part in enumerate(found, start=1):
        text = KINDS["tube"].theory(passages[at][0], STREAM, joined_to(passages, at))
        # of what has been added so far, the march is good to 1e-3
        room = 1e-3 * sum(one.variance_simulated[0] for one in found[:at])
        assert part.variance_exact == text.variance
        assert part.variance_simulated[0] == pytest.approx(text.variance[0], rel=1e-3, abs=room)


def test_closed_form_of_two_halves_is_that_of_the_whole():
    one, other = joined(replace(TUBE, length=0.15), replace(TUBE, length=0.25))
    first = KINDS["tube"].theory(one, STREAM)
    second = KINDS["tube"].theory(other, STREAM, [(one, STREAM)])
    whole = KINDS["tube"].theory(TUBE, STREAM)
    assert first.variance + second.variance == pytest.approx(whole.variance, rel=2e-4)
    assert first.third + second.third == pytest.approx(whole.third, rel=1e-3)
    assert second.mean == pytest.approx(whole.mean * 0.625)


def test_a_joint_that_does_mix_begins_anew():
    half = replace(TUBE, length=0.2)
    *first, fitting, last = (
        *joined(half, half),
        Fitting(name="joint", gap_bore=1e-4, gap_length=1e-6),
        replace(half, name="last"),
    )
    parts = journey(*first, fitting, last).parts
    assert parts[-1].variance_simulated == pytest.approx(parts[1].variance_simulated, rel=1e-3)


def test_lanes_of_one_journey_are_as_on_their_own():
    radii = np.array([np.inf, 0.3])
    tubes = joined(replace(TUBE, length=0.1, bend_radius=radii), replace(TUBE, length=0.2))
    both = journey(*tubes, stream=STREAM.over(2))
    for lane, radius in enumerate(radii):
        tubes = joined(replace(TUBE, length=0.1, bend_radius=radius), replace(TUBE, length=0.2))
        alone = journey(*tubes)
        assert both.recorded["variance"][lane] == pytest.approx(
            alone.recorded["variance"][0], rel=1e-6
        )


def test_a_band_keeps_where_it_comes_from_when_lanes_are_put_together():
    def band(lanes, upstream=None):
        return Band(np.ones((lanes, 3)), np.zeros(lanes), np.ones(lanes), upstream=upstream)

    one = band(2, Upstream(band(2), (("a",), ("b",))))
    both = Band.joined([one, band(1)])
    assert both.upstream.ways == (("a",), ("b",), ())
    assert both.picked(slice(1, 3)).upstream.ways == (("b",), ())
    assert one.delayed(np.array([1.0, 2.0])).upstream.band.start == pytest.approx([1.0, 2.0])
    assert Band.joined([band(1), band(1)]).upstream is None
