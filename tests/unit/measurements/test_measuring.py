"""Peaks found, windows, baselines; metrics against what was put in."""

from dataclasses import replace

import numpy as np
import pytest
from reference.signals import as_signal, noisy, peak
from scipy.signal import savgol_filter

from tailrace.measurements.evening import evened
from tailrace.measurements.measuring import measured_file, measured_files
from tailrace.measurements.noise import Noise, noise_of
from tailrace.measurements.signal import SignalError
from tailrace.measurements.spots import found_spots
from tailrace.measurements.treatment import DEGREE, treatment

TIMES = np.arange(0, 60, 0.1)


@pytest.mark.parametrize("correlation", [0.0, 0.3, 0.6, 0.8])
def test_noise_is_found_again(correlation):
    result = Noise(deviation=2.0, correlation=correlation, peak_to_peak=0.0)
    found = [
        noise_of(one, 1.0, [(0, 150), (350, 600)])
        for one in result.drawn((100, 600), np.random.default_rng(3))
    ]
    assert np.mean([one.deviation for one in found]) == pytest.approx(2.0, rel=0.04)
    assert np.mean([one.correlation for one in found]) == pytest.approx(correlation, abs=0.03)


@pytest.mark.parametrize("correlation", [0.0, 0.6])
def test_smoothed_noise_is_what_a_filter_of_others_leaves(correlation):
    """Savitzky and Golay's filter as scipy has it, over noise that is drawn."""
    even = evened(as_signal(TIMES, peak(TIMES)))
    way = treatment(even, found_spots(even)[0], "line")
    noise = Noise(deviation=2.0, correlation=correlation, peak_to_peak=0.0)
    points = 2 * way.spot.smoothing + 1
    drawn = noise.drawn((400, 600), np.random.default_rng(5))
    left = savgol_filter(drawn, points, DEGREE)[:, points:-points]
    assert points > DEGREE + 1
    assert way.noise_left(noise) == pytest.approx(left.std(), rel=0.01)
    unsmoothed = replace(way, spot=replace(way.spot, smoothing=0))
    assert unsmoothed.noise_left(noise) == noise.deviation


def test_drift_is_told_apart_from_noise():
    values = 0.5 * TIMES + np.random.default_rng(1).normal(0, 0.1, TIMES.size)
    found = noise_of(values, 0.1, [(0, TIMES.size)])
    assert found.drift == pytest.approx(0.5, rel=0.01)
    assert found.deviation == pytest.approx(0.1, rel=0.1)
    assert found.wander < 0.05


def test_every_peak_that_stands_out_is_found_and_no_other():
    values = sum(peak(TIMES, 0.5, 0.3, at, high) for at, high in ((10, 100), (25, 5), (40, 30)))
    values = values + np.random.default_rng(2).normal(0, 0.1, TIMES.size)
    spots = found_spots(evened(as_signal(TIMES, values)))
    assert TIMES[[one.apex for one in spots]] == pytest.approx([10.2, 25.2, 40.2], abs=0.2)
    flat = np.random.default_rng(2).normal(0, 0.1, TIMES.size)
    with pytest.raises(SignalError, match="found none"):
        measured_file(as_signal(TIMES, flat))
    with pytest.raises(SignalError, match="points down"):
        measured_file(as_signal(TIMES, flat - peak(TIMES, 1.0, 0.0, 20.0)))


@pytest.mark.parametrize("baseline", ["constant", "line", "smooth"])
def test_each_baseline_is_taken_off(baseline):
    under = {"constant": 7.0, "line": 3 + 0.2 * TIMES, "smooth": 3 * np.sin(TIMES / 25)}[baseline]
    bare = measured_file(as_signal(TIMES, peak(TIMES, 0.5, 0.0, 30.0)))
    found = measured_file(as_signal(TIMES, peak(TIMES, 0.5, 0.0, 30.0) + under), baseline=baseline)
    for name in ("height", "area", "apex", "width_half"):
        assert found.metrics[name] == pytest.approx(bare.metrics[name], rel=2e-3), name


def test_a_blank_run_is_taken_off():
    under = 5 * np.exp(-((TIMES - 28) ** 2) / 40)
    values = peak(TIMES, 0.5, 0.0, 30.0)
    found = measured_file(as_signal(TIMES, values + under), blank=as_signal(TIMES, under))
    assert found.metrics["area"][0] == pytest.approx(np.sum(values) * 0.1, rel=1e-4)
    with pytest.raises(SignalError, match="record it as long"):
        measured_file(as_signal(TIMES, values), blank=as_signal(TIMES[:300], under[:300]))


def test_a_given_window_is_measured():
    values = sum(peak(TIMES, 0.5, 0.3, at, high) for at, high in ((10, 100), (40, 30)))
    values = values + np.random.default_rng(2).normal(0, 0.1, TIMES.size)
    found = measured_file(as_signal(TIMES, values), window=(36.0, 46.0))
    assert found.peaks == ("1",)
    assert found.metrics["height"][0] == pytest.approx(30, rel=0.01)
    with pytest.raises(SignalError, match="widen it"):
        measured_file(as_signal(TIMES, values), window=(100.0, 101.0))


def test_uneven_times_are_measured_as_even_ones():
    uneven = TIMES + 0.03 * np.sin(3 * TIMES)
    one = measured_file(as_signal(TIMES, peak(TIMES, 0.5, 0.3, 30.0)))
    other = measured_file(as_signal(uneven, peak(uneven, 0.5, 0.3, 30.0)))
    assert not other.even
    for name in ("height", "area", "variance", "width_half"):
        assert other.metrics[name] == pytest.approx(one.metrics[name], rel=1e-3), name


def test_a_valley_below_the_common_baseline_parts_two_peaks():
    """Two Gaussians on the flanks of a V, which a line between its ends would lie above."""
    under = 4 * np.abs(TIMES - 30)
    values = under + peak(TIMES, 3.0, 0.0, 17.0) + peak(TIMES, 3.0, 0.0, 43.0)
    values = values + np.random.default_rng(4).normal(0, 0.2, TIMES.size)
    found = measured_file(as_signal(TIMES, values))
    truth = 100 * 3.0 * np.sqrt(2 * np.pi)
    assert found.metrics["area"] == pytest.approx(truth, rel=0.05)
    assert found.metrics["mean"] == pytest.approx([17.0, 43.0], abs=0.5)


def test_moments_without_an_area_are_not_resolved():
    """A peak between dips as large as itself."""
    dips = peak(TIMES, 3.0, 0.0, 24.0, -60.0) + peak(TIMES, 3.0, 0.0, 36.0, -60.0)
    values = peak(TIMES, 2.0, 0.0, 30.0) + dips + np.random.default_rng(4).normal(0, 0.1, 600)
    found = measured_file(as_signal(TIMES, values), window=(15.0, 45.0)).metrics
    for name in ("area", "mean", "variance", "skewness"):
        assert np.isnan(found[name]).all(), name
    assert found["apex"] == pytest.approx(30.0, abs=0.05)


def test_a_clipped_peak_and_a_gap_are_not_measured():
    values = peak(TIMES, 0.5, 0.3, 30.0) + np.random.default_rng(2).normal(0, 0.1, TIMES.size)
    clipped = measured_file(as_signal(TIMES, np.minimum(values, 60.0)))
    kept = np.abs(TIMES - 31) > 0.4
    gap = measured_file(as_signal(TIMES[kept], values[kept]))
    assert (clipped.states, gap.states) == (("clipped",), ("gap",))
    for one in (clipped, gap):
        assert np.isnan(one.metrics["area"]).all()


def test_a_tail_beyond_the_window_is_in_the_uncertainty():
    """Truth by closed form: the moments of the whole peak, window or not."""
    found = measured_file(noisy(1000, 4, tau=2.0, length=80.0))
    for name, truth in (("mean", 20.3), ("variance", 5.0)):
        off = abs(found.metrics[name][0] - truth)
        assert off < 2 * found.uncertainty[name][0], name


def test_repeats_scatter_as_foreseen():
    files = [measured_file(noisy(200, seed), seed=seed) for seed in range(12)]
    repeats = measured_files(files, repeats=True).repeats
    assert repeats.count == 12
    ratio = repeats.deviation["area"] / repeats.expected["area"]
    assert 0.5 < ratio[0] < 1.6
    with pytest.raises(SignalError, match="two files or more"):
        measured_files(files[:1], repeats=True)


@pytest.mark.parametrize("digits", [2, 4, 15])
@pytest.mark.parametrize("count", [2, 12])
def test_no_neighbour_cuts_a_peak_that_lies_far_from_it(count, digits):
    """Peaks 55 standard deviations apart, on a baseline of nothing but zeros."""
    times = np.arange(0, 66 * count + 60, 0.1)
    apexes = 60 + 66 * np.arange(count)
    values = np.sum([100 * np.exp(-(((times - at) / 1.2) ** 2) / 2) for at in apexes], axis=0)
    spots = found_spots(evened(as_signal(times, np.round(values, digits))))
    assert [one.apex for one in spots] == pytest.approx(10 * apexes, abs=1)
    assert not any(one.cut_front or one.cut_tail for one in spots)
    assert len({one.window[1] - one.window[0] for one in spots}) == 1


def test_neighbours_part_in_the_middle_of_what_is_as_low():
    times = np.arange(0, 200, 0.1)
    values = sum(100 * np.exp(-(((times - at) / 1.2) ** 2) / 2) for at in (60, 76))
    one, other = found_spots(evened(as_signal(times, np.round(values, 2))))
    assert one.window[1] == other.window[0] + 1 == pytest.approx(681, abs=1)
