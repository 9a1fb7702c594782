"""Real chromatograms against their own integration; uncertainties against repeats."""

import numpy as np
import pytest
from reference.signals import noisy
from reference.tree import ROOT

from tailrace.measurements.measuring import measured_file
from tailrace.measurements.reading import load_signal

FILES = {"uv-trace-e1947.cdf": (4651, 8, "mAU"), "uneven-trace-e1947.cdf": (1645, 86, "counts")}


@pytest.mark.parametrize("name", FILES)
def test_the_integration_of_the_file_is_met(name):
    points, marks, unit = FILES[name]
    signal = load_signal(ROOT / "tests" / "data" / name)
    assert (signal.times.size, len(signal.marks), signal.signal_unit) == (points, marks, unit)
    found = measured_file(signal)
    for field in ("area", "height", "apex"):
        own = np.array([getattr(one, field) for one in signal.marks])
        assert getattr(found, f"mark_{field}") == pytest.approx(own, rel=1e-4), field
    means, variances = found.metrics["mean"], found.metrics["variance"]
    inside = (found.window_start < means) & (means < found.window_end)
    assert np.array_equal(inside, np.isfinite(means))
    assert not np.any(variances <= 0)
    # a sum over an area that is not known means nothing
    assert np.isfinite(found.metrics["area"][inside]).all()


def test_peaks_found_in_the_real_signal_are_those_of_the_file():
    signal = load_signal(ROOT / "tests" / "data" / "uv-trace-e1947.cdf")
    found = measured_file(signal).metrics["apex"]
    for mark in signal.marks:
        assert np.min(np.abs(found - mark.apex)) < 0.4


REPEATS = 300
CASES = {"Gaussian": (1000, 0.0), "tailed": (200, 1.0)}
MOMENTS = {
    "Gaussian": {"mean": 18.3, "variance": 1.0},
    "tailed": {"mean": 19.3, "variance": 2.0},
}
"""Closed form: of a Gaussian, and of one convolved with an exponential of time constant 1."""


@pytest.mark.parametrize("case", CASES)
def test_uncertainties_are_the_spread_over_repeats(case):
    ratio, tau = CASES[case]
    files = [measured_file(noisy(ratio, seed, tau=tau), seed=seed) for seed in range(REPEATS)]
    for name in files[0].metrics:
        values = np.array([one.metrics[name][0] for one in files])
        if not np.isfinite(values).all():
            continue  # noise forbids this one
        stated = np.median([one.uncertainty[name][0] for one in files])
        assert stated == pytest.approx(np.std(values, ddof=1), rel=0.2), name
        truth = MOMENTS[case].get(name)
        if truth is not None:
            assert abs(values.mean() - truth) < stated, name
