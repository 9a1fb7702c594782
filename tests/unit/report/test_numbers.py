"""Digits: as many as a number deserves."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tailrace.report.numbers import by_powers, percent, significant, to_the_place_of, with_error

NAN = float("nan")


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (0.0, 3, "0"),
        (12345.6, 3, "12300"),
        (9.996, 3, "10.0"),
        (0.00331, 3, "0.00331"),
        (6.2e-5, 3, "6.20e-05"),
        (-0.01234, 2, "-0.012"),
        (NAN, 3, "-"),
        (float("inf"), 3, "-"),
        (99999999.0, 3, "1.00e+08"),
    ],
)
def test_significant_digits(value, digits, text):
    assert significant(value, digits) == text


@given(st.floats(1e-6, 1e9), st.integers(1, 6))
def test_what_is_shown_is_the_number_to_half_a_digit(value, digits):
    shown = float(significant(value, digits))
    assert abs(shown - value) <= 0.5000001 * 10 ** (1 - digits) * value


@pytest.mark.parametrize(
    ("value", "error", "text"),
    # One digit of the error, two where it starts with 1: common practice, no source.
    [
        (2860.47, 0.31, "2860.5 ± 0.3"),
        (2860.47, 0.102, "2860.47 ± 0.10"),
        (12346.0, 67.0, "12350 ± 70"),
        (12345.0, 0.0, "12345.000 ± 0.012"),
        (1.25, 0.0996, "1.25 ± 0.10"),
        (1.25, 3.2, "1 ± 3"),
        (0.0, 0.0, "0"),
        (1.23456, NAN, "1.235"),
        (NAN, 0.1, "-"),
    ],
)
def test_value_and_error(value, error, text):
    assert with_error(value, error) == text


@pytest.mark.parametrize(
    ("value", "error", "text"),
    [
        (0.394590, 0.000017, "0.3946"),
        (22.3410, 0.0012, "22.34"),
        (1.1444, 0.0006, "1.144 ± 0.001"),
        (12.43, 0.3, "12.4 ± 0.3"),
        (2754.0, 210.0, "2800 ± 200"),
        (2300.5, 0.5, "2300 ± 1"),
        (98.9, 7.3, "99 ± 7"),
        (0.0, 0.1, "0.00 ± 0.10"),
        (1.25, NAN, "1.250"),
        (NAN, 0.1, "-"),
    ],
)
def test_a_reader_gets_four_digits_and_the_error_where_it_reaches_them(value, error, text):
    assert with_error(value, error, digits=4) == text


@given(st.floats(1e-3, 1e6), st.floats(1e-5, 0.5))
def test_rounding_hides_less_than_the_error(value, relative):
    error = relative * value
    value_text, error_text = with_error(value, error).split(" ± ")
    assert abs(float(value_text) - value) <= 0.5000001 * error
    assert float(error_text) == pytest.approx(error, rel=0.26)
    decimals = [len(re.sub(r"^\d*\.?", "", text)) for text in (value_text, error_text)]
    assert decimals[0] == decimals[1]


@pytest.mark.parametrize(
    ("fraction", "text"),
    [
        (1.0, "100"),
        (0.1725, "17.2"),
        (0.09999, "10.0"),
        (0.0123, "1.23"),
        (0.0, "0.00"),
        (1e-5, "<0.01"),
        (-0.02, "-2.00"),
        (NAN, "-"),
        (0.9997, "99.97"),
        (0.99999, ">99.99"),
        (1 - 1e-15, "100"),
    ],
)
def test_percent(fraction, text):
    assert percent(fraction) == text


def test_what_is_small_stands_with_a_power_of_ten():
    assert by_powers(1.1012e-9, 2.1e-12) == "(1.101 ± 0.002)e-09"
    assert by_powers(0.0, 3e-7) == "(0 ± 3)e-07"
    assert by_powers(1.8, 0.02) == with_error(1.8, 0.02)


@pytest.mark.parametrize(
    ("value", "uncertainty", "text"),
    [
        (0.07724, 0.01439, "0.077"),
        (8.257e-06, 0.01961, "0.000"),
        (-8.257e-06, 0.01961, "0.000"),
        (1234.567, 23.0, "1235"),
        (1234.567, 230.0, "1230"),
        (7.630e-10, 2.43e-11, "7.63e-10"),
        (-4.7e-11, 2.43e-11, "-4.7e-11"),
        (1.0, 0.0996, "1.00"),
        (1.0, 0.0, "1.000"),
        (float("nan"), 0.1, "-"),
    ],
)
def test_no_digit_beyond_the_second_of_an_uncertainty(value, uncertainty, text):
    assert to_the_place_of(value, uncertainty) == text
