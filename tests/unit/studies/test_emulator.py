"""The polynomial that stands in for journeys: fitted slab by slab as if at once."""

import numpy as np
import pytest

from tailrace.studies.tolerance import widening
from tailrace.studies.tolerance.widening import Emulator


def test_slabs_of_samples_fit_what_all_of_them_fit(monkeypatch):
    inputs = np.random.default_rng(3).normal(size=(500, 3))
    one, two, three = inputs.T
    values = np.array([1 + two - 0.5 * one * three + 0.1 * two**2, np.full(500, np.nan)])
    values[0, 7] = np.nan
    whole = Emulator(inputs, values)
    monkeypatch.setattr(widening, "SLAB", 64)
    found = Emulator(inputs, values)(inputs[:9])
    assert found[0] == pytest.approx(whole(inputs[:9])[0], rel=1e-9)
    rows = [0, 1, 2, 3, 4, 5, 6, 8]
    assert found[0, rows] == pytest.approx(values[0, rows], abs=1e-6)
    assert np.isnan(found[1]).all()
