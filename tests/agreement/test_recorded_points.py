"""A recorded peak and its stated error, against the curve that its points are taken of."""

import numpy as np
import pytest
from reference.journeys import FLOW, itinerary, plug, tube_with

from tailrace.journey import travel
from tailrace.journey.product import multiply
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.detector.part import Detector
from tailrace.report.numbers import is_resolved

PLUG, HELD = 0.15, 0.5
WAYS = {"march": travel, "product": multiply}


@pytest.mark.parametrize("phase", [0.0, 0.2, 0.45, 0.7, 0.9])
def test_the_curve_lies_within_the_stated_error_wherever_points_fall(phase):
    # a plug that a stirred volume leaves with a corner, between two points
    mixer = Chamber(name="mixer", volume=HELD * FLOW)
    found = travel(itinerary(plug(PLUG), mixer, Detector(interval=0.06, sampling_phase=phase)))
    truth = {"mean": PLUG / 2 + HELD, "variance": PLUG**2 / 12 + HELD**2, "area": 1.0}
    apart = {name: abs(found.recorded[name][0] - true) for name, true in truth.items()}
    assert max(apart.values()) > 1e-3
    for name, one in apart.items():
        assert one < found.numerical_error[name][0], name


@pytest.mark.parametrize("way", WAYS)
def test_plates_of_a_single_point_above_half_height_are_not_resolved(way):
    tube, passing = tube_with(1.0)
    fine, coarse = (
        WAYS[way](itinerary(plug(0.1), tube, *detector, passing=passing))
        for detector in ((), (Detector(interval=0.5, sampling_phase=0.9),))
    )
    assert "above half the height of the narrowest peak: 1;" in " ".join(coarse.warnings)
    for name in ("plates_half_height", "width_half", "variance"):
        true, found = fine.recorded[name][0], coarse.recorded[name][0]
        assert abs(found - true) <= coarse.numerical_error[name][0], name
    plates = "plates_half_height"
    assert not is_resolved(coarse.recorded[plates][0], coarse.numerical_error[plates][0])


def test_close_points_of_a_smooth_peak_move_no_figure():
    tube, passing = tube_with(1.0)
    points, curve = (
        multiply(itinerary(plug(0.1), tube, one, passing=passing))
        for one in (Detector(interval=0.005), Detector())
    )
    for name in ("mean", "variance", "plates_half_height"):
        more = points.numerical_error[name] - curve.numerical_error[name]
        assert np.all(np.abs(more) < 1e-6 * curve.recorded[name]), name
