"""Whatever changes a band's grid keeps its amount, mean, variance and third moment."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference import paths
from scipy.stats import gamma, norm

from tailrace.measures import moments
from tailrace.signals import Band
from tailrace.signals.cubic import aligned, doubled, halved, sample, spread
from tailrace.signals.response import convolved, uniform_weights
from tailrace.signals.window import decimated, trimmed

AMOUNTS = st.lists(paths.numbers(-2.0, 5.0), min_size=1, max_size=40).filter(
    lambda amounts: abs(sum(amounts)) > 0.1
)
STARTS, STEPS = paths.numbers(-5.0, 20.0), paths.numbers(0.01, 2.0)


def raw(band, about):
    """Moments 0 to 3 about a time; of bands that may be negative somewhere."""
    late = band.times - about
    return [float((band.values * late**power).sum() * band.step[0]) for power in range(4)]


def same_moments(one, other):
    about = one.start[0] + one.step[0] * one.values.shape[1] / 2
    reach = one.step[0] * (one.values.shape[1] + 8)
    size = np.abs(one.values).sum() * one.step[0]
    for power, (a, b) in enumerate(zip(raw(one, about), raw(other, about), strict=True)):
        assert a == pytest.approx(b, abs=1e-12 * size * reach**power)


def band_of(amounts, start=0.0, step=1.0):
    return Band(np.array([amounts], dtype=float), np.array([start]), np.array([step]))


@given(AMOUNTS, STARTS, STEPS)
def test_halved_and_doubled(amounts, start, step):
    band = band_of(amounts, start, step)
    same_moments(band, halved(band))
    same_moments(band, doubled(band))
    assert halved(band).step == pytest.approx(2 * step)
    assert doubled(band).step == pytest.approx(step / 2)


@given(AMOUNTS, STARTS, STEPS)
def test_doubled_keeps_the_samples(amounts, start, step):
    band = band_of(amounts, start, step)
    there = sample(doubled(band), band.times)
    assert there == pytest.approx(band.values, abs=1e-12 * np.abs(band.values).max())


@given(st.lists(st.tuples(paths.numbers(1.0, 20.0), paths.numbers(0, 3)), min_size=1, max_size=30))
def test_spread_keeps_the_moments_of_point_amounts(points):
    positions, amounts = np.array(points).T
    grid = spread(positions[None], amounts[None], 24)[0]
    for power in range(4):
        found = grid @ np.arange(24.0) ** power
        assert found == pytest.approx(amounts @ positions**power, rel=1e-11, abs=1e-9)


@given(AMOUNTS, st.integers(0, 5), st.integers(0, 5))
def test_aligned_moves_no_sample_in_time(amounts, before, behind):
    band = band_of(amounts, 3.0, 0.5)
    wider = aligned(band, band.start - before * band.step, len(amounts) + before + behind)
    same_moments(band, wider)
    back = aligned(wider, band.start, len(amounts))
    assert np.array_equal(back.values, band.values)


@given(AMOUNTS, STARTS, STEPS)
def test_sample_at_the_samples_and_outside(amounts, start, step):
    band = band_of(amounts, start, step)
    assert sample(band, band.times) == pytest.approx(band.values, abs=1e-9)
    far = np.array([[start - 5 * step, start + (len(amounts) + 5) * step]])
    assert np.all(sample(band, far) == 0.0)


@given(st.lists(paths.numbers(-3, 3), min_size=4, max_size=4), paths.numbers(0.05, 0.95))
def test_sample_is_exact_for_cubics(coefficients, offset):
    times = np.arange(12.0)
    band = band_of(np.polyval(coefficients, times))
    late = np.array([[4 + offset, 5 + offset]])
    expected = np.polyval(coefficients, late)
    assert sample(band, late) == pytest.approx(expected, rel=1e-11, abs=1e-9)


@given(paths.numbers(1.5, 6.0), paths.numbers(0.1, 3.0), paths.numbers(0.01, 0.05))
def test_thinned_and_trimmed_keep_the_moments_of_smooth_bands(order, scale, fraction):
    step = fraction * scale
    times = np.arange(0.0, 60.0 * scale, step)
    values = gamma.pdf(times - 2 * scale, order + 1, scale=scale)
    band = Band(values[None], times[:1], np.array([step]))
    thin = decimated(band, 1e-4)
    same_moments(band, thin)
    assert thin.step[0] >= band.step[0]
    short, lost = trimmed(band, 1e-11)
    assert abs(lost[0]) < 3e-11
    assert short.area + lost == pytest.approx(band.area, abs=1e-15)
    for name in ("mean", "variance", "third"):
        kept = getattr(moments(short), name)
        assert kept == pytest.approx(getattr(moments(band), name), rel=1e-7)


def test_thinning_stops_where_the_shape_forbids_it():
    step = 0.01
    times = np.arange(-1.0, 1.0, step)
    wide, steep = norm.pdf(times, scale=0.2), norm.pdf(times, scale=0.015)
    band = Band(np.array([wide, steep]), np.full(2, -1.0), np.full(2, step))
    thin = decimated(band, 1e-4)
    assert thin.step[0] > thin.step[1]
    assert thin.step[1] == step
    for name in ("area", "mean", "variance", "third"):
        one, other = getattr(moments(band), name), getattr(moments(thin), name)
        assert other == pytest.approx(one, rel=1e-10, abs=1e-12)


@given(paths.numbers(0.0, 5.0), paths.numbers(0.01, 9.0), paths.numbers(0.1, 2.0))
def test_an_even_response_adds_its_own_moments(begin, length, step):
    one = np.array([1.0])
    weights, first = uniform_weights(begin * one, (begin + length) * one, step * one)
    response = convolved(band_of([1 / step], 0.0, step), weights, first)
    found = moments(response)
    assert found.area == pytest.approx(1.0, abs=1e-12)
    assert found.mean == pytest.approx(begin + length / 2, rel=1e-9)
    # differences of a cubic's weights: rounding stands against the step
    assert found.variance == pytest.approx(length**2 / 12, abs=1e-10 * (step + length) ** 2)
    assert found.third == pytest.approx(0.0, abs=1e-9 * (step + length) ** 3)
