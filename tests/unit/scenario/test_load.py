"""From a sound file to parts and streams."""

import hashlib
import math
from typing import get_args

import numpy as np
import pytest

import tailrace

METHOD = """\
[method]
flow = "0.60 mL/min"
temperature = "35 degC"
"""
MIXTURE = "eluent = { water = 0.25, acetonitrile = 0.75 }\n"
REST = """\
[[solutes]]
name = "given"
retention_factor = 2.1
diffusivity = "1.1e-9 m^2/s"
[injection]
shape = "plug"
volume = "2 uL"
[[path]]
name = "capillary"
part = "tube"
bore = "0.12 mm"
length = "0.5 m"
[[path]]
name = "heater"
part = "tube"
bore = "0.005 in"
length = "200 mm"
temperature = "60 degC"
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "100 mm"
particle_diameter = "2.7 um"
particle = "core-shell"
[[path]]
name = "cell"
part = "cell"
volume = "13 uL"
"""
ESTIMATED = '[[solutes]]\nname = "estimated"\nretention_factor = 5\nmolar_volume = "180 mL/mol"\n'


@pytest.fixture
def load(tmp_path):
    """Function of a text: the scenario that stands in it."""

    def loaded(text):
        path = tmp_path / "case.toml"
        path.write_bytes(text.encode())
        return tailrace.load(path)

    return loaded


def test_parts_are_built_in_order_in_si(load):
    itinerary = load(METHOD + MIXTURE + REST).itinerary()
    parts = [part for part, _ in itinerary.passages]
    assert [part.name for part in parts] == ["injection", "capillary", "heater", "column", "cell"]
    assert itinerary.lanes == ("given",)
    assert math.isnan(itinerary.pressure_limit)
    assert parts[0].volume == 2e-9
    # Geometry: pi/4 (0.12 mm)^2 0.5 m = 5.65487 uL; 0.005 in = 0.127 mm exactly.
    assert parts[1].volume == pytest.approx(5.65487e-9, rel=1e-6)
    assert parts[2].bore == 0.127e-3
    assert float(parts[3].total_porosity) == 0.52
    assert parts[4].tanks == 1.0


def test_streams_hold_one_value_a_solute(load):
    scenario = load(METHOD + MIXTURE + ESTIMATED + REST)
    stream = scenario.itinerary().passages[1][1]
    assert stream.flow_rate == 1e-8
    assert stream.temperature == 308.15
    assert stream.retention_factor.tolist() == [5.0, 2.1]
    assert stream.diffusivity.shape == (2,)
    assert stream.diffusivity[1] == 1.1e-9
    assert stream.lanes == 2


def test_estimate_agrees_with_wilke_and_chang_by_hand(load):
    """D = 7.4e-8 sqrt(2.6 x 18.015) T / (eta V^0.6): 7.063e-6 cm^2/s.

    V = 200 cm^3/mol in water at 298.15 K with 0.89 cP (Wilke and Chang, AIChE J. 1 (1955) 264;
    worked out by hand).
    """
    text = METHOD.replace("35 degC", "298.15 K") + "eluent = { water = 1 }\n"
    text += 'viscosity = "0.89 mPa*s"\n' + ESTIMATED.replace("180", "200")
    stream = load(text + REST.replace('temperature = "60 degC"\n', "")).itinerary().passages[0][1]
    assert stream.viscosity == 0.89e-3
    assert stream.diffusivity[0] == pytest.approx(7.06256e-10, rel=1e-4)


@pytest.mark.parametrize("viscosity", ["", 'viscosity = "0.45 mPa*s"\n'])
def test_warm_part_keeps_diffusivity_times_viscosity_over_temperature(load, viscosity):
    """Stokes and Einstein: D eta / T is one number for one solute in one liquid."""
    itinerary = load(METHOD + MIXTURE + viscosity + REST).itinerary()
    cool, warm = itinerary.passages[1][1], itinerary.passages[2][1]
    assert warm.temperature == 333.15
    assert warm.viscosity < 0.8 * cool.viscosity
    products = [s.diffusivity * s.viscosity / s.temperature for s in (cool, warm)]
    np.testing.assert_allclose(products[0], products[1], rtol=1e-12)


def test_warm_part_of_an_unknown_liquid_keeps_what_was_given(load):
    scenario = load(METHOD + 'viscosity = "0.45 mPa*s"\n' + REST)
    cool, warm = (scenario.itinerary().passages[index][1] for index in (1, 2))
    assert (warm.viscosity, warm.diffusivity[0]) == (cool.viscosity, cool.diffusivity[0])
    assert any(
        line.startswith("heater: at 60 degC viscosity and diffusivity kept as given")
        for line in scenario.assumptions()
    )


def test_given_viscosity_stands_for_three_liquids(load):
    mixture = "eluent = { water = 0.2, methanol = 0.4, acetonitrile = 0.4 }\n"
    stream = load(METHOD + mixture + 'viscosity = "0.6 cP"\n' + REST).itinerary().passages[2][1]
    assert stream.viscosity == 0.6e-3


def test_viscosity_may_stand_in_the_eluent(load):
    text = METHOD + 'eluent = { viscosity = "0.6 mPa*s" }\n' + REST
    assert load(text).itinerary().passages[0][1].viscosity == 0.6e-3


def test_rise_time_is_ln_9_time_constants(load):
    """10 % to 90 % of a first-order step takes ln 9 = 2.197225 time constants."""
    text = METHOD + MIXTURE + REST + '[detector]\nrise_time = "2.197225 s"\ninterval = "50 ms"\n'
    detector = load(text).itinerary().passages[-1][0]
    assert detector.time_constant == pytest.approx(1.0, rel=1e-6)
    assert (detector.interval, detector.averaged) == (0.05, False)


def test_empty_detector_changes_nothing(load):
    detector = load(METHOD + MIXTURE + REST + "[detector]\n").itinerary().passages[-1][0]
    assert (detector.kind, detector.time_constant) == ("detector", 0.0)
    assert math.isnan(detector.interval)


def test_limits_reach_the_itinerary(load):
    text = METHOD + MIXTURE + REST + '[limits]\npressure = "40 MPa"\n'
    assert load(text).itinerary().pressure_limit == 4e7


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ('"gaussian"\nsigma = "50 ms"', {"sigma": 0.05}),
        ('"washout"\nvolume = "2 uL"\nwashout_volume = "1 uL"', {"washout_volume": 1e-9}),
    ],
)
def test_shapes_of_injection(load, keys, expected):
    text = METHOD + MIXTURE + REST.replace('"plug"\nvolume = "2 uL"', keys)
    injector = load(text).itinerary().passages[0][0]
    assert {key: getattr(injector, key) for key in expected} == expected


@pytest.mark.parametrize("header", ["", "time,height\n", "\ufeffs, mAU\r\n"])
def test_signal_is_read_beside_the_scenario(load, tmp_path, header):
    (tmp_path / "inlet.csv").write_text(
        header + "0, 0\n0.5, 2e1\n1, 1e1\n\n# end\n1.5, 0\n", newline=""
    )
    text = METHOD + MIXTURE
    text += REST.replace('"plug"\nvolume = "2 uL"', '"signal"\nfile = "inlet.csv"')
    injector = load(text).itinerary().passages[0][0]
    assert injector.shape == "signal"
    assert injector.signal_times.tolist() == [0.0, 0.5, 1.0, 1.5]
    assert injector.signal_heights.tolist() == [0.0, 20.0, 10.0, 0.0]


def test_title_hash_and_text_are_those_of_the_file(load):
    text = METHOD + MIXTURE + REST
    scenario = load(text)
    assert scenario.title == "case"
    assert scenario.sha256 == hashlib.sha256(text.encode()).hexdigest()
    assert scenario.text == text


def test_byte_order_mark_and_windows_line_ends_are_read(load):
    assert load("\ufeff" + (METHOD + MIXTURE + REST).replace("\n", "\r\n")).title == "case"


def test_path_without_column_needs_no_retention(load):
    start, end = REST.index('[[path]]\nname = "column"'), REST.index('[[path]]\nname = "cell"')
    text = (REST[:start] + REST[end:]).replace("retention_factor = 2.1\n", "")
    assert load(METHOD + MIXTURE + text).itinerary().passages[0][1].retention_factor.tolist() == [0]


def test_every_kind_of_part_and_every_liquid_can_be_written():
    from tailrace.eluent.liquids import LIQUIDS
    from tailrace.parts import KINDS
    from tailrace.scenario.model import PART_TABLES, EluentTable, NumericsTable
    from tailrace.signals.resolution import SOLVERS

    assert {KINDS[name].part.kind for name in PART_TABLES} == {*KINDS} - {
        "injector",
        "loop",  # what a shape of injection makes
        "detector",
    }
    assert set(EluentTable.model_fields) == {*LIQUIDS, "viscosity"}
    assert get_args(NumericsTable.model_fields["solver"].annotation) == SOLVERS
