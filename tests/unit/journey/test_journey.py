"""Bookkeeping of a journey: parts, pressures, warnings, the error estimate."""

import re
from dataclasses import replace

import numpy as np
import pytest
from reference.journeys import FLOW, bands_behind, gaussian, itinerary, plug, stream, tube_with

from tailrace.errors import BudgetError
from tailrace.journey import travel
from tailrace.journey.hydraulics import pressure
from tailrace.measures import measure
from tailrace.parts.cell.part import Cell
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.column.part import Column
from tailrace.parts.detector.part import Detector
from tailrace.parts.tube.part import Tube

TUBE = Tube(name="tube", bore=0.2e-3, length=0.5)
CELL = Cell(name="cell", volume=0.1 * FLOW, tanks=2.0)


@pytest.fixture(scope="module")
def result():
    detector = Detector(time_constant=0.1, interval=0.02)
    return travel(itinerary(plug(0.2), TUBE, CELL, detector))


def test_parts_are_told_in_their_order(result):
    assert [part.name for part in result.parts] == ["injection", "tube", "cell", "detector"]
    assert [part.kind for part in result.parts] == ["injector", "tube", "cell", "detector"]
    assert result.column_alone is None
    assert result.column_band is None
    assert result.recorded_band is result.parts[-1].band


def test_what_parts_add_sums_to_what_is_recorded(result):
    for figure in ("mean", "variance"):
        added = sum(getattr(part, f"{figure}_simulated") for part in result.parts)
        assert added == pytest.approx(result.recorded[figure], rel=1e-12)


def test_simulated_stands_beside_exact(result):
    for part in result.parts:
        assert part.variance_simulated == pytest.approx(part.variance_exact, rel=1e-3), part.name
        assert part.mean_simulated == pytest.approx(part.mean_closed_form, abs=1e-5), part.name
    assert np.isnan(result.parts[0].fourier_number).all()
    assert result.parts[1].fourier_number == pytest.approx(np.pi * 1e-9 * 0.5 / FLOW)


def test_nothing_is_lost(result):
    assert result.recorded["amount_recovered"] == pytest.approx(1.0, abs=1e-9)
    assert not [text for text in result.warnings if "cut off" in text]


def test_progress_counts_every_part_of_both_runs():
    seen = []
    travel(itinerary(gaussian(0.1), CELL), progress=lambda *pair: seen.append(pair))
    assert seen == [(done, 4) for done in (1, 2, 3, 4)]


def test_error_estimate_covers_the_distance_to_a_much_finer_run():
    tube, passing = tube_with(0.3)
    reported = travel(itinerary(gaussian(0.1), tube, passing=passing))
    finest = bands_behind((gaussian(0.1), passing), (tube, passing), refinement=3.0)[-1]
    true = measure(finest)
    for name in ("width_half", "plates_half_height", "tailing_5", "variance", "mean"):
        apart = abs(reported.recorded[name] - true[name])[0]
        assert apart <= reported.numerical_error[name][0], name
        assert reported.numerical_error[name][0] < 5e-3 * abs(true[name][0]), name


def test_a_column_alone_is_an_ideal_peak_where_the_whole_would_put_it():
    column = Column(
        name="column", bore=2e-3, length=0.01, particle_diameter=3e-6, plates=1000.0, porosity=0.6
    )
    reported = travel(itinerary(gaussian(0.05), TUBE, column, CELL))
    # width at half height of an inverse Gaussian of 1,000 plates, near that of a Gaussian
    assert reported.column_alone["plates_half_height"] == pytest.approx(1000.0, rel=0.01)
    elsewhere = sum(part.mean_closed_form for part in reported.parts)
    centre = (
        reported.column_band.values * reported.column_band.times
    ).sum() * reported.column_band.step
    assert centre == pytest.approx(elsewhere, rel=1e-6)


def test_pressure_behind_the_cell_is_what_its_inlet_stands_under():
    behind = Tube(name="waste tube", bore=0.1e-3, length=1.0)
    passages = [(part, stream()) for part in (TUBE, CELL, behind)]
    found = pressure(passages)
    # 128 eta L F / (pi d^4) by hand: 1 m of 0.1 mm at 1e-8 m^3/s and 1 mPa s
    drop = 128 * 1e-3 * 1.0 * 1e-8 / (np.pi * 1e-16)
    assert found.parts["waste tube"] == pytest.approx(drop, rel=1e-12)
    assert found.cell_inlet == pytest.approx(drop, rel=1e-12)
    assert found.total == pytest.approx(drop + found.parts["tube"], rel=1e-12)
    assert np.isnan(pressure([(TUBE, stream())]).cell_inlet)
    assert np.isnan(pressure([(TUBE, replace(stream(), viscosity=float("nan")))]).total)


SHORT = replace(TUBE, length=1e-2)
WARNINGS = {
    "limit": ({"pressure_limit": 1e3}, (TUBE,), {}, r"pressure: .* bar, the limit is .*manual"),
    "cell limit": (
        {},
        (replace(CELL, pressure_limit=1e3), replace(TUBE, name="waste")),
        {},
        r"cell: pressure at the inlet: .* the limit is",
    ),
    "unmixed": ({}, (SHORT,), {"diffusivity": 5e-10}, r"tube: Fourier number 0.0016 is outside"),
    "mixed": ({}, (replace(TUBE, bore=1e-3),), {"diffusivity": 1e-7}, r"tube: Peclet number 127"),
    "turbulent": ({}, (TUBE,), {"viscosity": 1e-5}, r"tube: Reynolds number 6366 .*turbulent"),
    "few points": (
        {},
        (TUBE, Detector(interval=1.0)),
        {},
        r"detector: points above half .*: 1; 10 or",
    ),
}


@pytest.mark.parametrize("name", WARNINGS)
def test_warnings(name):
    settings, parts, liquid, pattern = WARNINGS[name]
    passing = replace(stream(), **liquid)
    reported = travel(itinerary(plug(0.2), *parts, passing=passing, **settings))
    assert any(re.search(pattern, text) for text in reported.warnings), reported.warnings


@pytest.mark.parametrize(
    ("share", "says"), [(1.01, "Do not run it"), (0.99, "near it"), (0.81, "near it"), (0.79, "")]
)
def test_a_limit_is_told_before_it_is_reached(share, says):
    total = pressure([(TUBE, stream())]).total
    reported = travel(itinerary(plug(0.2), TUBE, pressure_limit=total / share))
    lines = [text for text in reported.warnings if text.startswith("pressure: ")]
    assert len(lines) == bool(says)
    assert all(says in text and "manual" in text for text in lines)


def test_a_part_that_cannot_be_computed_is_named():
    slow = Detector(time_constant=1e6)
    with pytest.raises(BudgetError, match=r"detector: a response of .* closer together"):
        travel(itinerary(plug(0.2), TUBE, slow))


def test_a_quiet_journey_warns_of_nothing(result):
    assert result.warnings == ()


def test_a_chamber_alone_needs_no_detector():
    reported = travel(itinerary(gaussian(0.1), Chamber(name="chamber", volume=FLOW)))
    assert reported.recorded["variance"] == pytest.approx(1.01, rel=1e-6)
    assert set(reported.recorded) == set(reported.numerical_error)
