"""Differences of quantities, which know no zero and no bounds; numbers as people write them."""

import pytest

from tailrace.errors import QuantityError
from tailrace.quantities.kinds import plain
from tailrace.quantities.parse import parse, parse_difference


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("2 um", "bore", 2e-6),
        ("0.1 um", "bore", 1e-7),  # a bore itself cannot be so narrow
        ("-3 mm", "length", -3e-3),
        ("0.5 K", "temperature", 0.5),
        *((one, "temperature", 0.5) for one in ("0.5 degC", "0.5 °C", "0.5 celsius")),
        *((one, "temperature", 0.5) for one in ("0.9 degF", "0.9 °F", "0.9 degR")),
        ("0.001 in", "bore", 2.54e-5),  # an inch is 25.4 mm by definition
        ("0.03 mL/min", "flow rate", 5e-10),
    ],
)
def test_differences(text, kind, value):
    assert parse_difference(text, kind) == pytest.approx(value, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "kind", "said"),
    [
        ("2", "bore", 'a deviation with a unit such as "1 mm", found "2"'),
        (2.0, "bore", "found 2; write a number and a unit"),
        ("2 s", "bore", "is not a unit of bore"),
        ("1 C", "temperature", 'write "1 degC"'),
        ("1 mm" + " " * 100, "bore", "write a number and a unit"),
    ],
)
def test_what_is_no_difference(text, kind, said):
    with pytest.raises(QuantityError, match=said):
        parse_difference(text, kind)


@pytest.mark.parametrize(
    ("text", "kind"),
    [("20 rpm", "rate"), ("10 Bq", "rate"), ("1 rad/s", "rate"), ("50 %*mm", "length")],
)
def test_angles_counts_and_shares_are_in_no_other_quantity(text, kind):
    with pytest.raises(QuantityError, match="is not a unit of"):
        parse(text, kind)


def test_thousandths_of_an_inch():
    assert parse("5 mil", "bore") == parse("5 thou", "bore") == pytest.approx(0.127e-3, rel=1e-14)


@pytest.mark.parametrize(
    ("value", "written"),
    [(11243.7, "11240"), (0.95134, "0.9513"), (2.0, "2"), (1e-12, "1e-12"), (-0.0, "-0")],
)
def test_plain_numbers(value, written):
    assert plain(value) == written


def test_a_number_that_is_none():
    assert plain(float("nan")) == "not known"
