"""Adjusted methods: what follows from another column, by hand, and what is outside.

Formulas of the harmonised text of USP <621> and Ph. Eur. 2.2.46, from memory: F2 = F1 (dc2/dc1)^2
dp1/dp2, V2 = V1 L2 dc2^2/(L1 dc1^2), t2 = t1 F1/F2 times the same.
"""

import json

import pytest
from click.testing import CliRunner

import tailrace
from tailrace.cli.main import main
from tailrace.errors import TailraceError
from tailrace.studies.adjusting import adjust

METHOD = """
[method]
flow = "1 mL/min"
viscosity = "0.6 mPa*s"
temperature = "30 degC"
eluent = { water = 0.6, acetonitrile = 0.4 }

[[solutes]]
name = "a"
retention_factor = 2.0
diffusivity = "1e-9 m^2/s"
amount = "2 nmol"

[injection]
shape = "plug"
volume = "20 uL"

[[path]]
name = "column"
part = "column"
bore = "4.6 mm"
length = "150 mm"
particle_diameter = "5 um"
plates = 10000

[[path]]
name = "cell"
part = "cell"
volume = "8 uL"

[[accept]]
measure = "plates"
at_least = 7000

[numerics]
accuracy = 0.01
"""
GRADIENT = """
[gradient]
dwell_volume = "900 uL"
programme = [
  { time = "0 min", strong = 0.05 },
  { time = "3 min", strong = 0.05 },
  { time = "20 min", strong = 0.95 },
]
"""
SMALLER = ("column.length = 100 mm", "column.bore = 2.1 mm", "column.particle_diameter = 3 um")
RATIO = 100 * 2.1**2 / (150 * 4.6**2)


@pytest.fixture
def method(tmp_path):
    file = tmp_path / "method.toml"
    file.write_text(METHOD)
    return file


@pytest.fixture
def with_gradient(tmp_path):
    file = tmp_path / "gradient.toml"
    retained = METHOD.replace("retention_factor = 2.0", "kw = 100\ns = 3").replace(
        "plates = 10000\n", ""
    )
    file.write_text(
        retained.replace('[[accept]]\nmeasure = "plates"\nat_least = 7000', "").replace(
            "eluent = { water = 0.6, acetonitrile = 0.4 }\n", ""
        )
        + GRADIENT
    )
    return file


def rules(found):
    return {one.quantity: one for one in found.rules}


def test_all_follows_from_the_column(method):
    found = adjust(tailrace.load(method), SMALLER)
    after, by_name = found.after.document, rules(found)
    flow = 1e-6 / 60 * 2.1**2 * 5 / (4.6**2 * 3)
    assert after.method.flow == pytest.approx(flow, rel=1e-9)
    assert after.injection.volume == pytest.approx(20e-9 * RATIO, rel=1e-9)
    assert after.solutes[0].amount == pytest.approx(2e-9 * RATIO, rel=1e-9)
    # same reduced velocity, same reduced plate height: plates go as L/dp
    assert after.path[0].plates == pytest.approx(10000 * (100 / 3) / (150 / 5), rel=1e-9)
    column = next(part for part, _ in found.after.itinerary().passages if part.separates)
    assert float(column.plates_flow) == pytest.approx(flow, rel=1e-9)
    assert by_name["length over particle diameter"].adjusted == pytest.approx(1e5 / 3)
    assert by_name["length over particle diameter"].greatest == pytest.approx(45000)
    assert all(one.inside for one in found.rules)
    # an 8 uL cell behind a narrow column: within the rules, and not suitable
    assert not found.criteria[0].kept
    assert not found.inside


@pytest.mark.parametrize(
    ("asked", "outside"),
    [
        ("column.length = 110 mm", "length over particle diameter"),
        ("column.length = 230 mm", "length over particle diameter"),
        ("method.flow = 1.6 mL/min", "flow"),
        ("method.temperature = 41 degC", "temperature"),
    ],
)
def test_what_is_outside_is_said(method, asked, outside):
    found = rules(adjust(tailrace.load(method), [asked]))
    assert [name for name, one in found.items() if not one.inside] == [outside]


def test_a_minor_component_by_no_more_than_ten_percent(method):
    document = tailrace.load(method)
    for acetonitrile, inside in ((0.49, True), (0.51, False)):
        asked = [
            f"method.eluent.acetonitrile = {acetonitrile}",
            f"method.eluent.water = {1 - acetonitrile}",
        ]
        found = rules(adjust(document, asked))
        # 30 % of 40 % would be 12 %
        assert found["share of acetonitrile"].inside == inside


def test_the_programme_follows_and_the_dwell_volume_does_not(with_gradient):
    found = adjust(tailrace.load(with_gradient), SMALLER)
    flow = 2.1**2 * 5 / (4.6**2 * 3)
    times = [row[1] / 60 for row in found.programme]
    assert times == pytest.approx([0, 3 / flow * RATIO, 20 / flow * RATIO], rel=1e-9)
    late = (900 - 900 * RATIO) / (1000 * flow)
    assert found.dwell.later / 60 == pytest.approx(late, rel=1e-9)
    assert found.dwell.hold / 60 == pytest.approx(times[1])
    assert not found.dwell.fits
    assert adjust(tailrace.load(with_gradient), SMALLER, dwell="6 mL").dwell.fits


def test_with_a_gradient_flow_stays_with_the_column(with_gradient):
    found = rules(adjust(tailrace.load(with_gradient), ["method.flow = 1.2 mL/min"]))
    assert not found["flow"].inside
    assert found["retention time of a"].lowest == pytest.approx(
        0.85 * found["retention time of a"].prescribed
    )


@pytest.mark.parametrize(
    ("asked", "text"),
    [
        ("cell.volume = 2 uL", "another part or key"),
        ("column.length = 100, 150 mm", "expected one value, found 2"),
        ("column.plates = 9000", "another part or key"),
    ],
)
def test_each_slip_has_its_sentence(method, asked, text):
    with pytest.raises(TailraceError, match=text):
        adjust(tailrace.load(method), [asked])


def test_the_command_writes_what_it_says(method, tmp_path):
    written = tmp_path / "new.toml"
    asked = [part for one in SMALLER for part in ("--to", one)]
    done = CliRunner().invoke(
        main, ["adjust", str(method), *asked, "--write", str(written), "--json"]
    )
    assert done.exit_code == 1
    answer = json.loads(done.stdout)
    assert answer["inside"] is False and "not suitable" in answer["conclusion"]
    assert tailrace.load(written).document.method.flow == pytest.approx(
        answer["rules"][1]["adjusted"]
    )
    text = CliRunner().invoke(main, ["adjust", str(method), "--to", "method.flow = 1.1 mL/min"])
    assert text.exit_code == 0 and "from memory" in text.stdout
    assert " bar, each ± 20 %)" in text.stdout
