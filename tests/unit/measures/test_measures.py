"""Figures that a peak does not have, and moments worked by hand."""

import numpy as np
import pytest
from reference.outline import Outline
from scipy.stats import norm

from tailrace.errors import MeasureError
from tailrace.measures import measure, moments
from tailrace.signals import Band


def band_of(*rows, start=0.0, step=1.0):
    values = np.array(rows, dtype=float)
    lanes = len(rows)
    return Band(values, np.full(lanes, start), np.full(lanes, step))


def test_moments_by_hand():
    # amounts 1, 2, 1 at 10, 11, 12 s; and 3, 1 at 10 and 14 s
    found = moments(band_of([1, 2, 1, 0, 0], [3, 0, 0, 0, 1], start=10.0))
    assert found.area == pytest.approx([4.0, 4.0])
    assert found.mean == pytest.approx([11.0, 11.0])
    assert found.variance == pytest.approx([0.5, 3.0])
    assert found.third == pytest.approx([0.0, 6.0])
    assert found.skewness == pytest.approx([0.0, 6.0 / 3.0**1.5])


def test_moments_keep_their_digits_far_from_time_zero():
    times = np.arange(-8, 8, 0.1)
    near, far = (
        moments(Band(norm.pdf(times)[None], np.array([start]), np.array([0.1])))
        for start in (0.0, 1e6)
    )
    assert far.variance == pytest.approx(near.variance, rel=1e-12)
    assert far.third == pytest.approx(near.third, abs=1e-12)


def test_a_band_without_width_has_no_skewness():
    assert np.isnan(moments(band_of([0, 0, 5, 0])).skewness[0])


@pytest.mark.parametrize("row", [[1, 2, 1], [0, 0, 0, 0, 0], [-1, -2, -3, -2, -1]], ids=str)
def test_what_cannot_be_measured_is_said(row):
    with pytest.raises(MeasureError, match="cannot be measured"):
        Outline(band_of(row))


def test_the_message_about_a_peak_that_is_nowhere_positive_is_true():
    with pytest.raises(MeasureError) as refused:
        Outline(band_of([-1, -2, -3, -2, -1]))
    # five points are enough; what is missing is a positive one
    assert "positive" in str(refused.value)


def test_overlapping_peaks_are_measured_down_to_their_valley():
    times = np.arange(0.0, 20.0, 0.05)
    values = norm.pdf(times, loc=9) + 0.9 * norm.pdf(times, loc=13)
    outline = Outline(Band(values[None], times[:1], np.array([0.05])))
    front, tail = outline.flanks(0.5)
    assert tail - front == pytest.approx(np.sqrt(8 * np.log(2)), rel=0.02)
    # below the valley the tail belongs to the second peak
    assert outline.flanks(0.1)[1] > 13


def test_a_height_to_which_no_flank_falls():
    times = np.arange(-8, 8, 0.1)
    outline = Outline(Band(norm.pdf(times)[None], times[:1], np.array([0.1])))
    with pytest.raises(MeasureError, match="between 0 and 1, found 0"):
        outline.flanks(0.0)
    with pytest.raises(MeasureError, match="between 0 and 1, found 1"):
        outline.flanks(1.0)


def test_measure_gives_not_a_number_for_lanes_without_a_peak():
    times = np.arange(-8, 8, 0.1)
    band = Band(
        np.array([norm.pdf(times), np.zeros(times.size)]), np.full(2, -8.0), np.full(2, 0.1)
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        figures = measure(band)
    assert figures["width_half"][0] == pytest.approx(np.sqrt(8 * np.log(2)), rel=1e-5)
    assert np.isnan(figures["width_half"][1])
    assert np.isnan(figures["plates_half_height"][1])


def test_every_figure_is_there_for_a_peak():
    times = np.arange(90, 110, 0.1)
    figures = measure(Band(norm.pdf(times, loc=100)[None], times[:1], np.array([0.1])))
    assert len(figures) == 14
    for name, value in figures.items():
        assert value.shape == (1,), name
        assert np.isfinite(value).all(), name
