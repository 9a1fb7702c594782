"""Propagation and evaluation apart: shared beginnings, the discretisation error, textbook sums."""

from dataclasses import replace

import numpy as np
import pytest
from reference.journeys import FLOW, gaussian, itinerary, plug

from tailrace.journey import discretisation, travel
from tailrace.journey.evaluation import evaluate
from tailrace.journey.propagation import Stage, passed, propagate, spread
from tailrace.journey.textbook import textbook, textbook_metric
from tailrace.measures import METRICS, SIGNALS, Gaussian
from tailrace.measures.registry import EXTRA_COLUMN, PLATES, RESOLUTION, WIDTH
from tailrace.parts.cell.part import Cell
from tailrace.parts.column.part import Column
from tailrace.parts.tube.part import Tube

TUBE = Tube(name="tube", bore=0.2e-3, length=0.5)
CELL = Cell(name="cell", volume=0.1 * FLOW, tanks=2.0)
COLUMN = Column(
    name="column", bore=2e-3, length=0.01, particle_diameter=3e-6, plates=1000.0, porosity=0.6
)


def stages(path, resolution):
    return propagate(spread(path), resolution)


def test_a_shared_beginning_gives_the_result_of_the_whole():
    path = itinerary(plug(0.2), TUBE, CELL)
    ends = []
    for level in (path.resolution, path.resolution.coarser()):
        *before, whole = stages(path, level)
        _, again = passed(spread(path)[-1], before[-1].band, level)
        assert np.array_equal(again.band.values, whole.band.values)
        slim = [one.slim(part) for one, (part, _) in zip(before, path.passages, strict=False)]
        ends.append([*slim, again])
    reported, alone = evaluate(path, *ends), travel(path)
    for name, values in alone.recorded.items():
        assert reported.recorded[name] == pytest.approx(values, nan_ok=True)
        assert reported.numerical_error[name] == pytest.approx(
            alone.numerical_error[name], nan_ok=True
        )
    assert reported.signal.keys() == alone.signal.keys()
    for one, other in zip(reported.parts, alone.parts, strict=True):
        assert one.variance_volume == pytest.approx(other.variance_volume)
    assert reported.parts[1].band is None and reported.recorded_band is not None


def test_stages_are_joined_and_picked_lane_by_lane():
    path = itinerary(plug(0.2), CELL)
    one = stages(path, path.resolution)[-1]
    both = Stage.joined([one, replace(one, lost=one.lost + 1)])
    assert both.lost == pytest.approx([one.lost[0], one.lost[0] + 1])
    back = both.picked(slice(1, 2))
    assert back.moments.mean == pytest.approx(one.moments.mean)
    assert np.array_equal(back.band.values, one.band.values)


def test_the_extra_column_variance_is_that_of_all_but_the_column():
    reported = travel(itinerary(gaussian(0.05), TUBE, COLUMN, CELL))
    outside = [part.variance_simulated[0] for part in reported.parts if part.name != "column"]
    assert reported.recorded[EXTRA_COLUMN] == pytest.approx([sum(outside) * FLOW**2], rel=1e-12)
    for part in reported.parts:
        assert part.variance_volume == pytest.approx(part.variance_simulated * FLOW**2)
    # an error of the whole variance is an error of a part of it
    whole = reported.numerical_error["variance"] * FLOW**2
    assert 0.1 * whole < reported.numerical_error[EXTRA_COLUMN] < 10 * whole


def two_peaks():
    recorded = {"apex": np.array([10.0, 12.0]), "width_half": np.array([1.0, 3.0])}
    errors = {"apex": np.full(2, 0.01), "width_half": np.full(2, 0.02)}
    return recorded | {"height": np.ones(2)}, errors | {"height": np.full(2, 0.1)}


def test_every_derived_metric_has_its_error():
    recorded, errors = two_peaks()
    # 1.17741 of 2 s over 4 s; errors 0.02/2 and 0.04/4 of it
    found = discretisation.of_resolution(recorded, errors, np.array([0, 1]))
    assert found == pytest.approx([0.588705 * 0.02], rel=1e-5)
    for name, row in SIGNALS.items():
        error = discretisation.of_signal(name, np.array([5.0, 7.0]), recorded, errors)
        assert error == pytest.approx([0.5, 0.7] if row.sensitivity else [0.0, 0.0]), name


def test_the_error_of_every_metric_grows_with_the_distance_of_the_signals():
    values = {name: np.array([2.0]) for name, row in METRICS.items() if row.read}
    near, far = (
        discretisation.of_metrics(values, values, np.array([apart]), True, 1.0)
        for apart in (1e-5, 2e-5)
    )
    for name in values:
        assert 0 < near[name] == pytest.approx(far[name] / 2), name


def test_textbook_sums_are_those_of_the_parts():
    path = itinerary(gaussian(0.05), TUBE, COLUMN, CELL)
    peak = textbook(spread(path))
    reported = travel(path)
    assert peak.mean == pytest.approx(sum(part.mean_closed_form for part in reported.parts))
    variance = sum(part.variance_gaussian_theory for part in reported.parts)
    assert peak.variance == pytest.approx(variance)
    assert textbook_metric(PLATES, peak) == pytest.approx(peak.mean**2 / variance)
    assert np.isnan(textbook_metric("tailing_5", peak)).all()


def test_textbook_values_with_a_gradient_and_of_pairs():
    peak = Gaussian(mean=np.array([30.0, 10.0]), variance=np.ones(2), gradient_time=100.0)
    assert np.isnan(textbook_metric(PLATES, peak)).all()
    assert textbook_metric("peak_capacity", peak) == pytest.approx([26.0, 26.0])
    assert textbook_metric(RESOLUTION, peak) == pytest.approx([5.0])
    assert textbook_metric(RESOLUTION, peak, of=(0, 1)) == pytest.approx([5.0])
    assert textbook_metric(WIDTH, peak) == pytest.approx(np.sqrt(8 * np.log(2)) * np.ones(2))
