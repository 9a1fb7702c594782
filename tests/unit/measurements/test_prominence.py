"""Maxima that stand out, against scipy's."""

import numpy as np
import pytest
from scipy.signal import find_peaks, peak_widths

from tailrace.measurements.prominence import half_widths, prominent


@pytest.mark.parametrize("steps", [0, 1], ids=["", "with flat tops"])
def test_maxima_are_those_of_scipy(steps):
    random = np.random.default_rng(1)
    for count in random.integers(3, 300, 40):
        values = np.cumsum(random.standard_normal(count))
        values = np.round(values) if steps else values
        tops, found = find_peaks(values, prominence=0.5)
        mine, out = prominent(values, 0.5)
        assert np.array_equal(mine, tops) and np.array_equal(out, found["prominences"])
        widths = peak_widths(values, tops, 0.5)[0]
        assert half_widths(values, mine, out) == pytest.approx(widths, abs=1e-9)
