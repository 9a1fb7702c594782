"""The command ``eluent``: what it prints, and what it refuses."""

import json

import pytest
from click.testing import CliRunner

from tailrace.cli import main
from tailrace.cli.reference import volume_fractions


def invoke(*words):
    return CliRunner().invoke(main, ["eluent", *words])


def test_each_property_has_an_uncertainty_and_a_source():
    answer = invoke("water 40, acetonitrile 60", "--temperature", "35 degC")
    assert (answer.exit_code, answer.stderr) == (0, "")
    head, *rows = answer.stdout.splitlines()
    assert (
        head
        == "water 40 % by volume (66.1 mol%), acetonitrile 60 % by volume (33.9 mol%) at 35 degC"
    )
    for row, name in zip(rows, ("viscosity", "density", "mass for diffusion"), strict=False):
        assert row.startswith(name)
        assert "  within " in row
    sources = rows[rows.index("Sources") + 1 :]
    assert [line.split(":")[0].strip() for line in sources] == [
        "viscosity",
        "density",
        "mass for diffusion",
    ]


def test_json_is_in_si():
    # IAPWS R12-08 at 25 degC: 0.890022 mPa s at 0.1 MPa and 0.887119 at 40 MPa, 997.048 kg/m^3
    answer = json.loads(invoke("water 100", "--json").stdout)["properties"]
    assert answer["viscosity"]["value"] == pytest.approx(0.890022e-3, rel=1e-3)
    assert answer["density"]["value"] == pytest.approx(997.048, rel=1e-4)
    assert all(set(one) == {"value", "unit", "uncertainty", "source"} for one in answer.values())
    pressed = json.loads(invoke("Water 100 %", "--pressure", "400 bar", "--json").stdout)
    assert pressed["pressure"] == 4e7
    assert pressed["properties"]["viscosity"]["value"] == pytest.approx(0.887119e-3, rel=1e-3)


@pytest.mark.parametrize(
    "mixture",
    [
        "40 % water / 60 % acetonitrile",
        "water/acetonitrile 40/60",
        "ACN:H2O 60:40 (v/v)",
        "60% MeCN in 40% water",
        "Acetonitrile 0.6 and water 0.4",
    ],
)
def test_a_mixture_is_read_in_any_order_of_words(mixture):
    found = volume_fractions(mixture)
    assert found == {"water": pytest.approx(0.4), "acetonitrile": pytest.approx(0.6)}


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (["water 40"], "MIXTURE: expected percentages that add up to 100, found a sum of 40"),
        (["water 60, methanol forty"], "found forty (an unknown liquid); correct the name"),
        (["water methanol 40"], "write a name and a number for each liquid"),
        (["ethanol 100"], "found ethanol (an unknown liquid); no viscosity of it is known"),
        (["phosphate buffer 60, methanol 40"], "write a dilute buffer as water"),
        (["water 50, water 50"], "found water (twice)"),
        (["water 0, methanol 50, acetonitrile 50"], "known are water and its mixtures with one"),
        (["water 100", "--temperature", "95 degC"], "hold from 5 to 90 degC"),
        (["water 100", "--temperature", "35"], "--temperature: expected a temperature with a unit"),
        (["water 100", "--pressure", "1100 bar"], "holds to 1000 bar"),
    ],
)
def test_refused_in_one_sentence(words, text):
    answer = invoke(*words)
    assert (answer.exit_code, answer.stdout) == (2, "")
    assert text in answer.stderr
    assert answer.stderr.count("\n") == 1
