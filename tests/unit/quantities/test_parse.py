"""Reading quantities. Factors: NIST SP 811 (2008), appendix B (from memory), unless noted."""

import math
import re
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tailrace.errors import QuantityError
from tailrace.quantities.kinds import KINDS, show
from tailrace.quantities.parse import _convert, parse, shortened, unit_registry

WORTH = [
    ("35 degC", "temperature", 308.15),
    ("35 °C", "temperature", 308.15),
    ("95 degF", "temperature", 308.15),
    ("308.15 K", "temperature", 308.15),
    ("0.12 mm", "bore", 0.12e-3),
    ("0.12mm", "bore", 0.12e-3),
    ("  .12  mm ", "bore", 0.12e-3),
    ("0.005 in", "bore", 0.127e-3),
    ("0.6 mL/min", "flow rate", 1e-8),
    ("600 uL / min", "flow rate", 1e-8),
    ("1.1e-9 m^2/s", "diffusivity", 1.1e-9),
    ("1.1e-9 m**2/s", "diffusivity", 1.1e-9),
    ("1.1E-5 cm2/s", "diffusivity", 1.1e-9),
    ("1.1e-5 cm²/s", "diffusivity", 1.1e-9),
    ("0.45 mPa*s", "viscosity", 0.45e-3),
    ("0.45 mPa s", "viscosity", 0.45e-3),
    ("0.45 mPa·s", "viscosity", 0.45e-3),
    ("0.45 cP", "viscosity", 0.45e-3),
    ("400 bar", "pressure", 4e7),
    ("100 psi", "pressure", 689475.7293168361),
    ("2 uL", "volume", 2e-9),
    ("2 \u00b5L", "volume", 2e-9),
    ("2 \u03bcL", "volume", 2e-9),
    ("20 min", "effort", 1200.0),
    ("50 ms", "duration", 0.05),
    ("0 s", "response time", 0.0),
    ("180 cm^3/mol", "molar volume", 180e-6),
]


@pytest.mark.parametrize(("text", "kind", "value"), WORTH)
def test_text_is_worth_the_nearest_float(text, kind, value):
    # 95 degF goes through 5/9 and is off by rounding only.
    assert parse(text, kind) == pytest.approx(value, rel=1e-15, abs=0)


@pytest.mark.parametrize("kind", KINDS)
def test_usual_units_are_worth_what_pint_says_to_the_last_bit(kind):
    registry, row = unit_registry(), KINDS[kind]
    random = np.random.default_rng(1)
    numbers = ["0.12", "35", "1.1e-9", "-.3", "7.", *map(str, random.uniform(0, 900, 40))]
    for unit in (row.unit, *(one for one, _ in row.units)):
        theirs = registry.parse_units(re.sub(r"(?<=[A-Za-z])(?=-?[0-9])", "^", unit))
        for number in numbers:
            expected = float(registry.Quantity(Decimal(number), theirs).to(row.unit).magnitude)
            assert _convert(row, "", "", number, unit) == expected


def test_a_number_next_to_nothing_takes_no_time():
    with pytest.raises(QuantityError, match="check the number"):
        parse("1e-999999999 mm", "bore")


REFUSED = [
    (0.12, "bore", 'write "0.12 mm" if mm is meant'),
    ("0.12", "bore", "a bare number"),
    ("mm", "bore", "a number, a space and a unit"),
    ("", "bore", "a number, a space and a unit"),
    (True, "bore", "found true"),
    (None, "bore", "found None"),
    ([], "bore", "found an empty list"),
    ({}, "bore", "found a table"),
    (math.nan, "bore", "found nan"),
    ("nan mm", "bore", "not a finite number"),
    ("-inf mm", "bore", "not a finite number"),
    ("1e999 mm", "bore", "not a finite number"),
    ("0,12 mm", "bore", "as a point"),
    ("0.12 s", "bore", '"s" is not a unit of bore'),
    ("0.12 MM", "bore", 'case-sensitive: write "0.12 mm"'),
    ("35 C", "temperature", 'write "35 degC"'),
    ("95 F", "temperature", 'write "95 degF"'),
    ('.007"', "bore", 'write ".007 in" for inches'),
    ('2"', "volume", "write a number, a space and a unit"),
    ("35 degC/s", "temperature", "not a unit of temperature"),
    ("3 degC*s", "viscosity", "not a unit of viscosity"),
    ("2 UL", "volume", 'write "2 uL"'),
    ("0.6 ML/min", "flow rate", 'write "0.6 mL/min"'),
    ("1 m^9^9^9", "bore", "a number, a space and a unit"),
    ("1 (m", "bore", "a number, a space and a unit"),
    ("1 __import__('os')", "bore", "a number, a space and a unit"),
]


@pytest.mark.parametrize(("text", "kind", "phrase"), REFUSED)
def test_refusal_says_what_was_expected_and_what_to_write(text, kind, phrase):
    with pytest.raises(QuantityError) as caught:
        parse(text, kind)
    sentence = str(caught.value)
    assert sentence.startswith("expected a ")
    assert phrase in sentence
    assert "\n" not in sentence


@pytest.mark.parametrize("kind", KINDS)
def test_bounds_hold_on_both_sides(kind):
    row = KINDS[kind]
    # a share is written in per cent
    unit, size = (row.unit, 1.0) if row.unit != "1" else row.units[0]
    for bound, outside in ((row.lowest, -1.0), (row.greatest, 1.0)):
        bound = bound / size
        assert parse(f"{bound!r} {unit}", kind) == bound * size
        beyond = bound + outside * max(abs(bound) * 1e-6, 1e-12)
        with pytest.raises(QuantityError, match="expected"):
            parse(f"{beyond!r} {unit}", kind)


@pytest.mark.parametrize("kind", KINDS)
def test_examples_and_units_of_the_table_are_true(kind):
    row = KINDS[kind]
    for example in row.examples:
        parse(example, kind)
    for unit, size in row.units:
        number = 40 if kind == "temperature" else math.sqrt(max(row.lowest, 1e-30) * row.greatest)
        expected = number * size + (row.offset if unit == "degC" else 0)
        if row.lowest <= expected <= row.greatest:
            assert parse(f"{number!r} {unit}", kind) == pytest.approx(expected, rel=1e-12)


def test_unknown_kind_is_refused():
    with pytest.raises(QuantityError, match="no kind of quantity"):
        parse("1 m", "girth")


@settings(max_examples=300, deadline=None)
@given(
    st.one_of(
        st.text(max_size=30),
        st.from_regex(r"[0-9]{1,3} [A-Za-zµ°^*/0-9 .-]{0,12}", fullmatch=True),
        st.floats(),
        st.integers(),
    ),
    st.sampled_from(sorted(KINDS)),
)
def test_whatever_is_written_is_a_finite_number_or_refused(text, kind):
    try:
        value = parse(text, kind)
    except QuantityError as error:
        assert len(str(error)) < 400
    else:
        assert KINDS[kind].lowest <= value <= KINDS[kind].greatest


def test_what_is_shown_reads_back():
    for text, kind, value in WORTH:
        if value:
            assert parse(show(value, kind, 6), kind) == pytest.approx(value, rel=1e-5), text


@pytest.mark.parametrize(
    ("value", "kind", "text"),
    [
        (2e-9, "volume", "2 uL"),
        (78.54e-12, "volume", "78.54 nL"),
        (1e-6, "volume", "1 mL"),
        (308.15, "temperature", "35 degC"),
        (0.12e-3, "bore", "0.12 mm"),
        (0.0, "duration", "0 s"),
        (3300e-18, "volume variance", "3300 uL^2"),
        (math.nan, "pressure", "not known"),
    ],
)
def test_values_are_shown_in_the_units_of_the_trade(value, kind, text):
    assert show(value, kind) == text


def test_long_values_are_shortened_to_one_printable_line():
    assert shortened("a\nb\x00" + "x" * 10**6) == '"a?b?' + "x" * 55 + '…"'
    assert shortened(10**5000) == "a number of very many digits"
