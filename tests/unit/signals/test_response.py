"""Budgets of responses, and windows that keep a band short."""

import numpy as np
import pytest
from scipy.stats import norm

from tailrace.errors import BudgetError
from tailrace.signals import Band
from tailrace.signals.response import convolved, passed, through_plates, through_tanks
from tailrace.signals.window import decimated, trimmed


def pulse(step=0.1, lanes=1):
    return Band(np.full((lanes, 1), 1 / step), np.zeros(lanes), np.full(lanes, step))


def test_a_response_that_is_too_long_for_its_step_is_refused():
    with pytest.raises(BudgetError, match=r"a response of .* s .* in steps of 1e-09 s: .*closer"):
        through_tanks(pulse(1e-9), np.array([1.0]), 1.0, 1e-11)


@pytest.mark.parametrize("rate", [1.0, 40.0])
def test_a_long_response_is_taken_in_pieces(monkeypatch, rate):
    """What has no room as a whole is the same within rounding, over any number of lanes."""
    volumes = np.array([0.5, 1.0, 2.0]) / rate
    whole = through_tanks(pulse(lanes=3), volumes, 1.0, 1e-11)
    monkeypatch.setattr("tailrace.signals.response.AT_A_TIME", 200)
    pieces = through_tanks(pulse(lanes=3), volumes, 1.0, 1e-11)
    np.testing.assert_allclose(pieces.values, whole.values, atol=1e-15)
    monkeypatch.setattr("tailrace.signals.response.MOST_SAMPLES", 200)
    with pytest.raises(BudgetError):
        through_tanks(pulse(lanes=3), volumes, 1.0, 1e-11)


def test_weights_move_and_scale():
    band = convolved(pulse(0.5), np.array([[0.0, 2.0, 1.0]]), np.array([3.0]))
    assert band.start == pytest.approx([1.5])
    assert band.values[0] == pytest.approx([0.0, 4.0, 2.0], abs=1e-12)


def test_a_response_may_begin_between_samples():
    sigma, begin = 0.5, 3.27

    def density(times):
        return norm.pdf(times, loc=begin + 4, scale=sigma)

    one = np.ones(1)
    band = passed(pulse(), density, begin * one, (begin + 8) * one, sigma * one)
    late = band.times[0]
    assert band.values[0] == pytest.approx(norm.pdf(late, loc=begin + 4, scale=sigma), abs=2e-4)
    assert (band.values @ late)[0] * 0.1 == pytest.approx(begin + 4, rel=1e-9)


def test_lanes_with_and_without_a_volume_pass_side_by_side():
    band = through_tanks(pulse(lanes=2), np.array([0.0, 1.0]), 1.0, 1e-11)
    means = (band.values * band.times).sum(axis=1) * band.step
    # eight nodes on the graded first panel leave 4e-9 of the amount of one stirred volume
    assert band.area == pytest.approx([1.0, 1.0], abs=1e-8)
    assert means == pytest.approx([0.0, 1.0], abs=1e-8)


@pytest.mark.parametrize("residence", [0.01, 0.1, 1.0])
@pytest.mark.parametrize("tanks", [1.0, 1.5, 2.5, 6.0, 40.0])
def test_tanks_keep_the_amount_whatever_the_step(tanks, residence):
    band = through_tanks(pulse(), np.array([residence]), tanks, 1e-11)
    assert band.area == pytest.approx(1.0, abs=1e-8)


def _laplace(noise=0.0):
    """Tails that halve at each step of 8 samples, with rounding that alternates as a march on two
    grids leaves it."""
    times = np.arange(-400.0, 401.0)
    alternating = np.array([1.0, -1.0]) + 0 * times[:800].reshape(-1, 2)
    fourths = np.repeat([1.0, -1.0], 2) + 0 * times[:800].reshape(-1, 4)
    values = 0.5 ** np.abs(times / 8)
    values[:800] += noise * (alternating + fourths.reshape(-1, 2)).ravel()
    return Band(values[None], times[:1], np.ones(1))


def test_trimmed_tells_what_it_dropped():
    band = _laplace()
    kept, lost = trimmed(band, 1e-3)
    first = int(kept.start[0] - band.start[0])
    left, right = (band.values[0, side].sum() for side in (slice(first), slice(-first, None)))
    assert kept.values.shape[1] == band.values.shape[1] - 2 * first
    assert 0.4e-3 < left / band.area[0] < 0.5e-3 and right == pytest.approx(left)
    assert 2 * left < lost[0] < 2e-3 * band.area[0]
    inside = slice(first + 8, first + 400 - first)  # the other half lies within one halving
    assert np.array_equal(kept.values[0, 8 : 400 - first], band.values[0, inside])


def test_where_a_tail_is_cut_is_no_matter_of_what_alternates():
    """In magnitude it adds up, behind a peak, to more than what is cut."""
    exact, rounded = (trimmed(_laplace(noise), 1e-11)[0] for noise in (0.0, 1e-13))
    assert rounded.start == exact.start
    assert rounded.values.shape == exact.values.shape


def test_what_is_just_over_the_threshold_hardly_counts():
    """What rounding puts on one side of it here, and on the other there, makes no difference."""
    band = _laplace()
    share = 1e-6
    cuts = share * (1 + np.linspace(-0.1, 0.1, 41))
    thirds = [float((one.values * one.times**2).sum()) for one in
              (trimmed(band, cut)[0] for cut in cuts)]  # fmt: skip
    steps = np.abs(np.diff(thirds))
    assert len({trimmed(band, cut)[0].values.shape[1] for cut in cuts}) > 1
    assert steps.max() < 3 * np.median(steps)


def test_thinned_stops_before_a_band_has_next_to_no_samples():
    # far more coarsening than a tolerance of one forbids; what is left still has its moments
    times = np.arange(-8, 8, 0.01)
    band = Band(norm.pdf(times)[None], times[:1], np.array([0.01]))
    thin = decimated(band, 0.99)
    assert 4 <= thin.values.shape[1] <= 32
    assert thin.area == pytest.approx(band.area, rel=1e-12)


def test_thinning_a_lane_of_zeros_comes_to_an_end():
    times = np.arange(-8, 8, 0.5)
    values = np.array([norm.pdf(times), np.zeros(times.size)])
    band = Band(values, np.full(2, -8.0), np.full(2, 0.5))
    assert decimated(band, 1e-9).values[0] == pytest.approx(values[0])


def test_lanes_that_do_not_fit_together_pass_alone(monkeypatch):
    retention, plates = np.array([1.5, 30.0]), np.array([100.0, 400.0])
    ways = (
        lambda: through_plates(pulse(lanes=2), retention, plates, 1e-11),
        lambda: through_tanks(pulse(lanes=2), retention / 10, 2.0, 1e-11),
    )
    for way in ways:
        whole = way()
        with monkeypatch.context() as patch:
            patch.setattr("tailrace.signals.response.TOGETHER", whole.values.shape[1])
            alone = way()
        size = min(whole.values.shape[1], alone.values.shape[1])
        assert alone.values[:, :size] == pytest.approx(whole.values[:, :size], abs=1e-12)
        assert alone.area == pytest.approx(whole.area, rel=1e-13)


def test_lanes_that_take_much_memory_are_thinned_one_by_one(monkeypatch):
    times = np.arange(-800.0, 800.0)
    values = norm.pdf(times, scale=np.array([[2.0], [40.0]]))
    band = Band(values, np.zeros(2), np.ones(2))

    def thin():
        kept, lost = trimmed(band, 1e-9)
        return decimated(kept, 1e-4), lost

    (together, first), _ = thin(), monkeypatch.setattr("tailrace.signals.window.LARGE", 1)
    alone, lost = thin()
    assert lost == pytest.approx(first, rel=1e-12)
    assert alone.step.tolist() == together.step.tolist()
    assert alone.start.tolist() == together.start.tolist()
    assert alone.values == pytest.approx(together.values, abs=1e-15)


def test_a_wide_lane_leaves_no_room_that_none_needs():
    # a Gaussian a thousand times as wide as the other, on the steps of the narrow one
    times = np.arange(-8000.0, 8000.0)
    values = norm.pdf(times, scale=np.array([[2.0], [1000.0]]))
    band, _ = trimmed(Band(values, np.zeros(2), np.ones(2)), 1e-11)
    thin = decimated(band, 1e-4)
    assert thin.step[1] > 100
    assert thin.values.shape[1] < 200
    assert thin.area == pytest.approx(band.area, rel=1e-9)
