"""Shares and kept fractions, against sums done by hand."""

from dataclasses import replace

import numpy as np
import pytest

from tailrace.records.separation import kept_fraction, shares_outside_column, worst_first


def test_shares_leave_the_column_out_and_come_largest_first(make_result, rows):
    # By hand: 0.0033 + 0.01041 + 0.2513 = 0.26501 s^2 outside the column.
    path = [rows[name] for name in ("injection", "needle seat", "column", "detector")]
    shares = shares_outside_column(make_result(rows=path), 0)
    assert list(shares) == ["detector", "needle seat", "injection"]
    assert shares["detector"] == pytest.approx(0.2513 / 0.26501, rel=1e-12)
    assert sum(shares.values()) == pytest.approx(1.0, rel=1e-12)


def test_nothing_added_gives_no_shares(make_result, rows):
    assert shares_outside_column(make_result(rows=[rows["column"]]), 0) == {}


def test_kept_fraction_is_recorded_over_column(make_result):
    result = make_result(lanes=("a", "b"))
    result = replace(
        result,
        recorded={**result.recorded, "plates_half_height": np.array([3000.0, 1000.0])},
        column_alone={"plates_half_height": np.array([12000.0, 10000.0])},
    )
    np.testing.assert_allclose(kept_fraction(result), [0.25, 0.1], rtol=1e-12)
    assert worst_first(result) == [1, 0]


def test_a_peak_that_cannot_be_read_comes_last(make_result):
    result = make_result(lanes=("a", "b", "c"))
    plates = np.array([np.nan, 9000.0, 1000.0])
    result = replace(result, recorded={**result.recorded, "plates_half_height": plates})
    assert worst_first(result) == [2, 1, 0]


def test_without_a_column_the_widest_band_comes_first(make_result, rows):
    result = make_result(lanes=("a", "b"), rows=[rows["injection"], rows["needle seat"]])
    assert np.isnan(kept_fraction(result)).all()
    wide = {**result.recorded, "variance": np.array([0.1, 0.2])}
    assert worst_first(replace(result, recorded=wide)) == [1, 0]
