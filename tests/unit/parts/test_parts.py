"""Dimensions of parts, and what refuses to be computed."""

import numpy as np
import pytest
from reference.journeys import FLOW, bands_behind, gaussian, stream, tube_with

from tailrace.errors import AccuracyError, BudgetError
from tailrace.parts import KINDS
from tailrace.parts.cell.part import Cell
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.column.part import TOTAL_POROSITY, Column
from tailrace.parts.detector import march as detector_march
from tailrace.parts.detector.part import Detector
from tailrace.parts.fitting.part import Fitting
from tailrace.parts.tube import march as tube_march
from tailrace.parts.tube.part import Tube
from tailrace.signals import Band, Resolution

LANES = np.array([1.0, 2.0, 3.0])


def test_volumes_by_hand():
    assert Tube(name="t", bore=2e-3, length=1 / np.pi).volume == pytest.approx(1e-6, rel=1e-12)
    joint = Fitting(name="j", gap_bore=2e-3, gap_length=1 / np.pi)
    assert joint.volume == pytest.approx(1e-6, rel=1e-12)
    column = Column(name="c", bore=2e-3, length=1 / np.pi, particle_diameter=5e-6)
    assert column.volume == pytest.approx(TOTAL_POROSITY["fully porous"] * 1e-6, rel=1e-12)


def test_residence_is_volume_over_flow_and_retention_lengthens_it():
    column = Column(name="c", bore=2e-3, length=0.1, particle_diameter=5e-6, porosity=0.5)
    held = column.residence(stream(retention_factor=3.0))
    assert held == pytest.approx(4 * np.pi / 4 * 4e-6 * 0.1 * 0.5 / FLOW, rel=1e-12)
    assert Chamber(name="c", volume=3 * FLOW).residence(stream()) == pytest.approx(3.0)


def test_fourier_number_does_not_depend_on_the_bore():
    numbers = [
        Tube(name="t", bore=bore, length=0.5).fourier_number(stream()) for bore in (1e-4, 5e-4)
    ]
    assert numbers[0] == numbers[1] == pytest.approx(np.pi * 1e-9 * 0.5 / FLOW)


@pytest.mark.parametrize(
    "part",
    [
        Tube(name="t", bore=0.1e-3 * LANES, length=0.5),
        Chamber(name="c", volume=FLOW * LANES, tanks=2.5),
        Cell(name="c", volume=FLOW * LANES, tanks=2.0, read="mean"),
        Fitting(name="j", gap_bore=1e-3 * LANES, gap_length=1e-3),
        Column(name="c", bore=1e-3 * LANES, length=0.01, particle_diameter=5e-6),
        Detector(time_constant=0.1 * LANES),
    ],
    ids=lambda part: part.kind,
)
def test_dimensions_broadcast_over_lanes(part):
    passing = stream().over(3)
    text = KINDS[part.kind].theory(part, passing)
    for name in ("mean", "gaussian_variance", "variance", "third"):
        assert np.broadcast_to(getattr(text, name), (3,)).shape == (3,)
    assert text.variance[0] < text.variance[1] < text.variance[2]
    assert text.skewness.shape == (3,)


def test_a_part_without_volume_passes_a_band_unchanged():
    passing = stream().over(1)
    (band,) = bands_behind((gaussian(0.1), stream()))
    for part in (Chamber(name="c", volume=0.0), Detector(time_constant=0.0)):
        out = KINDS[part.kind].march(part, passing, band, Resolution())
        first = round(float((band.start - out.start)[0] / band.step[0]))
        values = out.values[0, first : first + band.values.shape[1]]
        assert values == pytest.approx(band.values[0], abs=1e-6 * band.values.max())


def test_a_tube_that_would_take_too_long_is_refused(monkeypatch):
    tube, passing = tube_with(0.1, name="long tube")
    monkeypatch.setattr(tube_march, "MOST_WORK", 1e3)
    with pytest.raises(BudgetError, match=r"long tube: .*time steps.*use a shorter"):
        bands_behind((gaussian(0.1), passing), (tube, passing))


def test_a_tube_that_does_not_empty_is_refused(monkeypatch):
    tube, passing = tube_with(0.1)
    monkeypatch.setattr(tube_march, "CHUNK", 256)
    monkeypatch.setattr(tube_march, "MOST_TIME_STEPS", 256)
    with pytest.raises(AccuracyError, match=r"still holds part of the band.*use a wider injection"):
        bands_behind((gaussian(0.1), passing), (tube, passing))


def test_too_many_points_are_refused_before_they_are_made():
    band = Band(np.ones((1, 11)), np.zeros(1), np.ones(1))
    detector = Detector(interval=1e-9)
    with pytest.raises(BudgetError, match=r"detector.interval: at 1e-09 s .*use a longer interval"):
        detector_march.recorded(detector, band)


def test_a_point_is_recorded_even_of_a_band_shorter_than_the_interval():
    band = Band(np.ones((1, 3)), np.array([0.1]), np.array([0.01]))
    assert detector_march.recorded(Detector(interval=1.0), band).values.shape == (1, 1)


def test_points_lie_at_whole_multiples_of_the_interval():
    band = Band(np.ones((1, 50)), np.array([0.33]), np.array([0.01]))
    points = detector_march.recorded(Detector(interval=0.05), band)
    assert points.times[0] / 0.05 == pytest.approx(np.rint(points.times[0] / 0.05), abs=1e-9)
    assert points.times[0, 0] == pytest.approx(0.35)
    assert points.times[0, -1] == pytest.approx(0.80)


def test_a_finer_resolution_asks_for_more_nodes_and_steps():
    one = np.array([[0.3]])
    coarse, fine = (
        tube_march.grid(one, np.ones((1, 1)), 0.1 * np.ones(1), Resolution(refinement=refinement))
        for refinement in (1.0, 2.0)
    )
    assert fine[0] == pytest.approx(2 * coarse[0], abs=3)
    assert fine[1] == [pytest.approx(2 * coarse[1][0], abs=3)]
    assert fine[1][0] % 2 == 0


def test_axial_steps_add_up_to_the_tube():
    lengths = tube_march.axial_steps(np.array([0.1, 2.0]), np.array([0.01, 0.3]), 40)
    assert lengths.sum(axis=0) == pytest.approx([0.1, 2.0], rel=1e-12)
    assert np.all(lengths > 0)
