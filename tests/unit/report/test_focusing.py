"""The sentence on what a gradient focuses."""

from dataclasses import replace

import numpy as np
import pytest

from tailrace.report.sentences import focusing
from tailrace.report.tables import parts_table, recorded_table


def with_focusing(result, share):
    """The same result as if a gradient had taken back this share of what comes before."""
    at = [part.kind for part in result.parts].index("column")
    shares = [*[share] * at, np.nan, *[0.0] * (len(result.parts) - at - 1)]
    parts = [
        replace(part, gradient_focusing=np.full(1, one))
        for part, one in zip(result.parts, shares, strict=True)
    ]
    return replace(result, parts=tuple(parts))


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0.998, "focuses all but 0.20 % of what"),
        (0.4, "focuses 40.0 % of what"),
        (-0.5, "The sample's solvent makes 1.50 times as much of what"),
    ],
)
def test_what_is_said(result, share, text):
    sentence = focusing(with_focusing(result, share), 0)
    assert text in sentence
    # by hand: 0.0033 + 0.01041 + 0.01734 + 6.2e-5 before, 0.01695 + 0.8452 + 0.2513 behind
    assert "before the column add (0.0311 s^2)" in sentence
    assert "nothing of what those behind it add (1.11 s^2)" in sentence


def test_nothing_is_said_without_a_gradient(result, make_result, rows):
    assert focusing(result, 0) == ""
    assert focusing(make_result(rows=[rows["injection"], rows["needle seat"]]), 0) == ""


def test_a_column_at_the_end_has_nothing_behind_it(make_result, rows):
    short = make_result(rows=[rows["injection"], rows["needle seat"], rows["column"]])
    assert "behind" not in focusing(with_focusing(short, 0.998), 0)


def test_what_is_left_of_each_part_adds_up(result):
    table = parts_table(with_focusing(result, -0.5), 0)
    at = [name for name, _ in table.head].index("left")
    *parts, whole = [float(row[at]) for row in table.rows]
    assert sum(parts) == pytest.approx(whole, rel=2e-3)
    assert table.rows[-1][6] == ""  # the simulated ones do not


def test_a_peak_capacity_has_no_more_digits_than_the_plates_behind_it_deserve(result):
    result = replace(
        result,
        recorded=result.recorded | {"peak_capacity": np.array([264.0861])},
        numerical_error={"peak_capacity": np.array([0.013])},
        column_alone={"peak_capacity": np.array([300.0])},
    )
    assert recorded_table(result).rows[0][2] == "264.1"
