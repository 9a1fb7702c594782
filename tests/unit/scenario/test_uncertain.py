"""Uncertain fields: read in units, checked, and cut where physics ends."""

import hashlib

import numpy as np
import pytest
from scipy import stats

import tailrace
from tailrace.errors import ScenarioError
from tailrace.scenario.inputs import correlation_of, inputs_of

BASE = """
[method]
flow = "0.5 mL/min"
temperature = "35 degC"
viscosity = "0.6 mPa*s"

[[solutes]]
name = "one"
retention_factor = 2.0
diffusivity = "1e-9 m^2/s"

[injection]
shape = "plug"
volume = "1 uL"

[[path]]
name = "tube"
part = "tube"
bore = "0.12 mm"
length = "300 mm"

[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "50 mm"
particle_diameter = "2.7 um"
plates = 9000

[[path]]
name = "cell"
part = "cell"
volume = "2 uL"
"""


def load(tmp_path, rows):
    file = tmp_path / "one.toml"
    file.write_text(BASE + rows)
    return tailrace.load(file)


def row(**keys):
    written = {
        key: value if isinstance(value, (int, float)) else f'"{value}"'
        for key, value in {"field": "tube.bore", **keys}.items()
    }
    return "\n[[uncertain]]\n" + "\n".join(f"{key} = {value}" for key, value in written.items())


def only(tmp_path, **keys):
    (found,) = inputs_of(load(tmp_path, row(**keys)))
    return found


SCORES = np.linspace(-3, 3, 13)
LEVELS = stats.norm.cdf(SCORES)


@pytest.mark.parametrize(
    ("keys", "law"),
    [
        (
            {"distribution": "normal", "standard_deviation": "2 um"},
            stats.norm(1.2e-4, 2e-6),
        ),
        ({"distribution": "normal", "relative": 0.05}, stats.norm(1.2e-4, 6e-6)),
        ({"distribution": "uniform", "half_width": "12 um"}, stats.uniform(1.08e-4, 2.4e-5)),
        (
            {"distribution": "uniform", "low": "0.11 mm", "high": "0.15 mm"},
            stats.uniform(1.1e-4, 4e-5),
        ),
        ({"distribution": "triangular", "relative": 0.1}, stats.triang(0.5, 1.08e-4, 2.4e-5)),
        (
            {"distribution": "triangular", "low": "0.11 mm", "high": "0.15 mm"},
            stats.triang(0.25, 1.1e-4, 4e-5),
        ),
        (
            {"distribution": "trapezoidal", "half_width": "12 um", "top_half_width": "6 um"},
            stats.trapezoid(0.25, 0.75, 1.08e-4, 2.4e-5),
        ),
        (
            {"distribution": "trapezoidal", "relative": 0.1, "top_half_width": 0.05},
            stats.trapezoid(0.25, 0.75, 1.08e-4, 2.4e-5),
        ),
        ({"distribution": "lognormal", "relative": 0.2}, stats.lognorm(0.2, scale=1.2e-4)),
    ],
)
def test_each_distribution_is_that_of_scipy(tmp_path, keys, law):
    one = only(tmp_path, **keys)
    np.testing.assert_allclose(one.values(SCORES), law.ppf(LEVELS), rtol=1e-12)
    assert one.mean_and_deviation()[1] == pytest.approx(law.std(), rel=1e-3)
    assert one.cut() == 0
    assert (one.unit, one.quantity, one.kind) == ("m", "bore", "tolerance")


def test_scaled_spreads_are_as_much_wider(tmp_path):
    one = only(tmp_path, distribution="triangular", low="0.11 mm", high="0.15 mm")
    twice = one.values(SCORES, scale=2.0) - 1.2e-4
    np.testing.assert_allclose(twice, 2 * (one.values(SCORES) - 1.2e-4), rtol=1e-9)
    assert one.values(SCORES, scale=0.0) == pytest.approx(np.full(13, 1.2e-4))
    assert one.limits(2.0) == pytest.approx((1.0e-4, 1.8e-4), rel=1e-6)


def test_deviations_go_with_another_value(tmp_path):
    absolute = only(tmp_path, distribution="uniform", half_width="12 um")
    relative = only(tmp_path, distribution="uniform", relative=0.1)
    np.testing.assert_allclose(
        absolute.values(SCORES, nominal=2.4e-4) - 1.2e-4, absolute.values(SCORES), rtol=1e-12
    )
    np.testing.assert_allclose(
        relative.values(SCORES, nominal=2.4e-4), 2 * relative.values(SCORES), rtol=1e-12
    )


def test_what_physics_forbids_is_cut_and_said(tmp_path):
    # A length is 1 um or more: of a normal one about 20 mm with 20 mm, 15.9 % lie below zero.
    one = only(tmp_path, field="tube.length", distribution="normal", relative=0.9)
    lost = stats.norm.cdf((1e-6 - 0.3) / 0.27)
    assert one.cut() == pytest.approx(lost, rel=1e-9)
    values = one.values(SCORES)
    assert values.min() >= 1e-6
    # scipy's truncated normal is another way to the same distribution.
    other = stats.truncnorm((1e-6 - 0.3) / 0.27, (100 - 0.3) / 0.27, 0.3, 0.27)
    np.testing.assert_allclose(values, other.ppf(LEVELS), rtol=1e-8)
    assert one.mean_and_deviation()[1] == pytest.approx(other.std(), rel=1e-3)


def test_temperatures_are_spread_in_kelvin(tmp_path):
    one = only(
        tmp_path, field="method.temperature", distribution="normal", standard_deviation="0.5 K"
    )
    assert one.nominal == pytest.approx(308.15)
    assert one.mean_and_deviation()[1] == pytest.approx(0.5, rel=1e-3)
    again = only(
        tmp_path, field="method.temperature", distribution="normal", standard_deviation="0.5 degC"
    )
    assert again.distribution == one.distribution


FIVE = np.array([0.118, 0.121, 0.119, 0.125, 0.122])


@pytest.mark.parametrize(
    ("kind", "widened"), [("tolerance", np.sqrt(1 + 1 / 5)), ("measurement", np.sqrt(1 / 5))]
)
def test_few_data(tmp_path, kind, widened):
    """A scaled and shifted t distribution: JCGM 101:2008, 6.4.9.4 (from memory) for readings of one
    part, and for the next part of a lot the prediction interval of Student, which has 1 + 1/n."""
    (tmp_path / "bores.csv").write_text("# measured\nmm\n" + "\n".join(map(str, FIVE)))
    one = only(tmp_path, distribution="data", file="bores.csv", kind=kind)
    mean, spread = FIVE.mean() * 1e-3, FIVE.std(ddof=1) * 1e-3
    assert one.values(np.array([0.0])) == pytest.approx([mean], rel=1e-6)
    ends = one.values(stats.norm.ppf([0.025, 0.975]))
    # Student's t for four degrees of freedom and 95 %: 2.776 in every table
    assert (ends[1] - ends[0]) / 2 == pytest.approx(2.7764 * spread * widened, rel=1e-4)
    # JCGM 101:2008, 6.4.9.4, formula for the variance: (n - 1)/(n - 3) of the square of the scale
    assert one.mean_and_deviation()[1] == pytest.approx(np.sqrt(2) * spread * widened, rel=0.02)


def test_bootstrap(tmp_path):
    (tmp_path / "bores.csv").write_text("mm\n" + "\n".join(map(str, FIVE)))
    one = only(tmp_path, distribution="bootstrap", file="bores.csv")
    samples = one.values(np.random.default_rng(1).standard_normal(2000))
    assert {*np.round(samples * 1e3, 6)} == {*FIVE}
    assert samples.std() == pytest.approx(FIVE.std() * 1e-3, rel=0.02)


def test_many_data(tmp_path):
    steps = np.linspace(0.118, 0.125, 57)
    (tmp_path / "bores.csv").write_text("# measured\nmm\n" + "\n".join(map(str, steps)))
    one = only(tmp_path, distribution="data", file="bores.csv")
    # The sorted values at equal steps of probability, straight lines between them.
    assert one.values(np.array([0.0])) == pytest.approx([1.215e-4])
    assert one.values(np.array([-9.0, 9.0])) == pytest.approx([1.18e-4, 1.25e-4])
    digest = hashlib.sha256((tmp_path / "bores.csv").read_bytes()).hexdigest()
    assert one.distribution.sha256 == digest


@pytest.mark.parametrize(
    ("content", "text"),
    [
        ("mm\n1\n2\n", "expected at least 5 values that differ, found 2"),
        ("mm\n0.1\nx\n0.1\n", 'bores.csv:3: expected a bore with a unit such as "0.12 mm"'),
        ("s\n0.1\n0.2\n0.3\n0.4\n0.5\n", "bores.csv:2: expected a bore"),
        ("", "expected a unit and numbers below it"),
    ],
)
def test_broken_data(tmp_path, content, text):
    (tmp_path / "bores.csv").write_text(content)
    with pytest.raises(ScenarioError, match=text):
        load(tmp_path, row(distribution="data", file="bores.csv"))


@pytest.mark.parametrize(
    ("keys", "text"),
    [
        (
            {"distribution": "normal"},
            "expected standard_deviation or relative beside normal, found none of them",
        ),
        (
            {"distribution": "normal", "relative": 0.1, "half_width": "1 um"},
            "found half_width and relative|found relative and half_width",
        ),
        (
            {"distribution": "normal", "standard_deviation": 2},
            'standard_deviation: expected a deviation with a unit such as "1 mm", found 2',
        ),
        (
            {"distribution": "normal", "standard_deviation": "2 s"},
            "is not a unit of bore",
        ),
        (
            {"distribution": "uniform", "half_width": "-1 um"},
            "half_width: expected a width above 0, found",
        ),
        (
            {"distribution": "uniform", "low": "0.2 mm", "high": "0.1 mm"},
            "expected a value above low",
        ),
        (
            {"distribution": "triangular", "low": "0.2 mm", "high": "0.3 mm"},
            "expected the scenario's value between low and high",
        ),
        (
            {"distribution": "trapezoidal", "half_width": "1 um", "top_half_width": "2 um"},
            "expected a top no wider than the whole",
        ),
        (
            {"distribution": "gaussian", "relative": 0.1},
            'expected a known distribution, found "gaussian"',
        ),
        ({"field": "tube.boer", "distribution": "normal", "relative": 0.1}, 'write "bore"'),
        (
            {"field": "column.particle", "distribution": "normal", "relative": 0.1},
            "expected a field that holds a number",
        ),
        (
            {"field": "column.porosity", "distribution": "normal", "relative": 0.1},
            "expected a field to which the scenario gives a value",
        ),
        (
            {"field": "column.plates", "distribution": "normal", "standard_deviation": "10 mm"},
            "expected a number without a unit",
        ),
        (
            {"distribution": "uniform", "low": "0.12 mm", "high": "0.13 mm", "file": "a.csv"},
            "give one of these and nothing else",
        ),
        ({"distribution": "data", "file": "none.csv"}, "no such file"),
    ],
)
def test_each_slip_has_its_sentence(tmp_path, keys, text):
    with pytest.raises(ScenarioError, match=text) as caught:
        load(tmp_path, row(**keys))
    assert len(caught.value.problems) == 1
    # The line of the row or of the key: all lie behind the base.
    line = int(caught.value.problems[0].split(":")[1])
    assert line > BASE.count("\n")


def test_a_field_can_be_uncertain_once(tmp_path):
    one = row(distribution="normal", relative=0.1)
    with pytest.raises(ScenarioError, match=r"found tube\.bore again"):
        load(tmp_path, one + one)


PAIR = row(distribution="normal", relative=0.05) + row(
    field="cell.volume", distribution="uniform", relative=0.1
)


def test_correlation(tmp_path):
    text = PAIR + '\n[[correlated]]\nfields = ["cell.volume", "tube.bore"]\ncoefficient = 0.8\n'
    scenario = load(tmp_path, text)
    matrix = correlation_of(scenario, inputs_of(scenario))
    np.testing.assert_allclose(matrix, [[1, 0.8], [0.8, 1]])


@pytest.mark.parametrize(
    ("rows", "text"),
    [
        ('fields = ["cell.volume", "tube.length"]\ncoefficient = 0.8', "two fields of .*uncertain"),
        ('fields = ["cell.volume", "cell.volume"]\ncoefficient = 0.8', "two fields that differ"),
        ('fields = ["cell.volume"]\ncoefficient = 0.8', "at least"),
        ('fields = ["cell.volume", "tube.bore"]\ncoefficient = 1.0', "a number below 1"),
    ],
)
def test_broken_correlation(tmp_path, rows, text):
    with pytest.raises(ScenarioError, match=text):
        load(tmp_path, f"{PAIR}\n[[correlated]]\n{rows}\n")


def test_coefficients_must_go_together(tmp_path):
    text = PAIR + row(field="tube.length", distribution="normal", relative=0.05)
    for fields, value in (
        ('["tube.bore", "cell.volume"]', 0.9),
        ('["cell.volume", "tube.length"]', 0.9),
        ('["tube.bore", "tube.length"]', -0.9),
    ):
        text += f"\n[[correlated]]\nfields = {fields}\ncoefficient = {value}\n"
    with pytest.raises(ScenarioError, match="positive definite"):
        load(tmp_path, text)
