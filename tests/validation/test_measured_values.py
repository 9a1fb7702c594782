"""The model against measured and published values: S, D, E = S - D and u_val (ASME V&V 20-2009).

The values, their sources and what is assumed beside them stand in
``tailrace/studies/qualifying/validation.py``; here is how far the model is known to lie off.
"""

import numpy as np
import pytest
from reference.tree import ROOT

from tailrace.studies.qualifying.result import Compared, agreements
from tailrace.studies.qualifying.validation import compared


@pytest.fixture(scope="module")
def rows():
    return compared()


BIAS = {
    "variance of a straight tube": (-0.17, 0.01),
    "dispersion in a bent tube": (0.063, 0.01),
    "viscosity, water and acetonitrile": (0.003, 0.002),
    "viscosity, water and methanol": (-0.051, 0.002),
    "diffusivity, estimated": (0.009, 0.005),
    "variance of an injection": (-0.938, 0.002),
}
"""Relative, as README and guide state it, and to which digit."""


@pytest.mark.parametrize("quantity", BIAS)
def test_the_bias_is_the_one_that_is_stated(rows, quantity):
    found = {one.quantity: one for one in agreements(rows)}[quantity]
    bias, digit = BIAS[quantity]
    assert found.bias == pytest.approx(bias, abs=digit)


@pytest.mark.parametrize("quantity", ["variance of a straight tube", "dispersion in a bent tube"])
def test_tubes_lie_within_what_the_measurement_leaves_open(rows, quantity):
    (one,) = (row for row in rows if row.quantity == quantity)
    assert abs(one.difference) < 2 * one.u_validation


def test_a_plug_is_refuted_by_the_measured_valve(rows):
    (one,) = (row for row in rows if row.quantity == "variance of an injection")
    assert one.model == pytest.approx(0.2**2 / 12, rel=1e-9)
    assert one.difference < -10 * one.u_validation


@pytest.mark.parametrize("field", ["retention time", "area", "height"])
def test_peaks_are_read_as_the_instrument_read_them(rows, field):
    own = [one for one in rows if one.quantity == f"{field} of a measured peak"]
    assert len(own) == 8
    assert all(abs(one.difference) < one.u_validation for one in own)


def test_u_val_adds_what_is_not_known_of_each():
    row = Compared(
        quantity="q",
        name="n",
        unit="1",
        model=12.0,
        measured=10.0,
        u_num=2.0,
        u_input=3.0,
        u_measured=6.0,
        source="",
    )
    assert row.u_validation == 7.0
    (found,) = agreements((row,))
    assert (found.bias, found.expected) == (pytest.approx(0.2), pytest.approx(0.7))
    assert np.isnan(found.spread)


def test_the_readme_says_how_many_and_that_no_instrument_is_among_them(rows):
    text = " ".join((ROOT / "README.md").read_text("utf-8").split())
    assert f"{len(rows)} published values" in text
    assert "no whole instrument yet" in text
    assert "not compared with measurements" not in text
