"""Records of one question held against each other: each number over what it is made of."""

import numpy as np
import pytest
import xarray

from tailrace.records.again import differences
from tailrace.report.again import scales

PARTS = np.array([1.0, 1e-4, 1.0])


def _tree(skewness, evidence):
    parts = {
        "variance_simulated": ("part", PARTS, {"units": "s^2"}),
        "skewness_simulated": ("part", np.array(skewness), {"units": "1"}),
    }
    tried = {
        "signal": ("time", np.zeros(200), {"units": "V"}),
        "log_evidence": ("hypothesis", np.array(evidence), {"units": "1"}),
    }
    return xarray.DataTree.from_dict({"/": xarray.Dataset(parts), "/m": xarray.Dataset(tried)})


def test_each_part_and_each_hypothesis_is_held_over_what_is_subtracted_for_it():
    """A third moment known to 1e-12 leaves a part's skewness (behind / own)^1.5 times that."""
    off = 1e-12 * (np.cumsum(PARTS) / PARTS) ** 1.5
    one = _tree([2.0, 50.0, 2.0], [0.0, -40.0])
    for at in range(3):
        other = _tree([2.0, 50.0, 2.0] + off * (np.arange(3) == at), [0.0, -40.0 + 1e-10])
        found = {row.name: row for row in differences(one, other)}
        assert found["/skewness_simulated"].rounding == pytest.approx(1e-12, rel=0.02)
        assert found["/m/log_evidence"].rounding == pytest.approx(1e-12, rel=0.02)
        told = scales([*found.values()])
        assert "(variance behind the part / its own)^1.5" in told and "half the points" in told
    assert "skewness" not in scales([found["/m/log_evidence"]])
