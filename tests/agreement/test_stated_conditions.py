"""What a file states holds at its own temperature and flow, and goes with them where they change.

Each is held against its law, written out here: van 't Hoff for retention, Stokes and Einstein for
diffusivities, the plate-height curve of a column without stated plates.
"""

from dataclasses import replace

import numpy as np
import pytest

from tailrace.scenario.assumptions import kept_by_changes
from tailrace.scenario.changed import on_columns
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.studies.axes import axes_of, cases_of
from tailrace.studies.samples import sampled
from tailrace.studies.tolerance import plan

GAS_CONSTANT = 8.314462618
STATED, FLOW = 308.15, 0.5e-6 / 60
SCENARIO = """
[method]
flow = "0.5 mL/min"
temperature = "35 degC"
eluent = { water = 0.4, acetonitrile = 0.6 }
[[solutes]]
name = "a"
retention_factor = 2.0
diffusivity = "1.2e-9 m^2/s"
[[solutes]]
name = "b"
retention_factor = 5.0
molar_volume = "180 cm^3/mol"
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "tube"
part = "tube"
bore = "0.12 mm"
length = "200 mm"
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "100 mm"
particle_diameter = "2.7 um"
plates = 17000
[[uncertain]]
field = "method.temperature"
distribution = "uniform"
half_width = "5 K"
[[accept]]
measure = "resolution"
at_least = 1.5
"""
FOLLOWED = SCENARIO.replace(
    "retention_factor = 2.0", 'retention_factor = 2.0\nretention_change = "-1.5 %/K"'
).replace("retention_factor = 5.0", 'retention_factor = 5.0\nretention_enthalpy = "-12 kJ/mol"')


def column(scenario):
    return scenario.itinerary().passages[2]


def test_without_a_change_of_temperature_or_flow_nothing_moves():
    part, liquid = column(Scenario.from_text(FOLLOWED))
    np.testing.assert_array_equal(liquid.retention_factor, [2.0, 5.0])
    np.testing.assert_allclose(part.plate_number(liquid), 17000.0, rtol=1e-12)
    assert liquid.diffusivity[0] == 1.2e-9


def test_retention_follows_van_t_hoff():
    warm = Scenario.from_text(FOLLOWED).changed({"method.temperature": "45 degC"})
    _, liquid = column(warm)
    per_inverse = 1 / 318.15 - 1 / STATED
    # d ln k / dT = enthalpy / (R T^2): that of a where it was stated
    slopes = np.array([-0.015 * STATED**2, -12000 / GAS_CONSTANT])
    expected = np.array([2.0, 5.0]) * np.exp(-slopes * per_inverse)
    np.testing.assert_allclose(liquid.retention_factor, expected, rtol=1e-12)
    assert liquid.retention_factor[0] == pytest.approx(2.0 * (1 - 0.15), rel=0.02)


def test_a_stated_diffusivity_follows_temperature_over_viscosity():
    scenario = Scenario.from_text(FOLLOWED)
    cold = scenario.itinerary().passages[1][1]
    hot = scenario.changed({"method.temperature": "55 degC"}).itinerary().passages[1][1]
    ratio = 328.15 / STATED * cold.viscosity / hot.viscosity
    assert ratio > 1.2
    # the stated one and the estimated one (Wilke and Chang) alike
    np.testing.assert_allclose(hot.diffusivity, cold.diffusivity * ratio, rtol=1e-12)


def test_a_given_viscosity_is_carried_as_that_of_the_eluent():
    given = FOLLOWED.replace("eluent =", 'viscosity = "0.7 mPa*s"\neluent =')
    pairs = [
        [
            one.changed({"method.temperature": at}).itinerary().passages[1][1].viscosity
            for at in ("36 degC", "55 degC")
        ]
        for one in map(Scenario.from_text, (FOLLOWED, given))
    ]
    assert pairs[1][1] / pairs[1][0] == pytest.approx(pairs[0][1] / pairs[0][0], rel=1e-12)
    assert Scenario.from_text(given).itinerary().passages[1][1].viscosity == 7e-4


@pytest.mark.parametrize(
    ("field", "value"),
    [("method.flow", "1.1 mL/min"), ("method.temperature", "60 degC")],
)
def test_stated_plates_follow_the_plate_height_curve(field, value):
    stated = Scenario.from_text(FOLLOWED)
    curve = Scenario.from_text(FOLLOWED.replace("plates = 17000\n", ""))
    (_, first), (part, there) = (column(one) for one in (stated, stated.changed({field: value})))
    bare, _ = column(curve)
    # the curve at both, retention apart: it is not what is scaled
    before = replace(
        there, flow_rate=first.flow_rate, diffusivity=first.diffusivity
    )  # stated for whatever k
    ratio = bare.plate_number(there) / bare.plate_number(before)
    assert np.all(np.abs(ratio - 1) > 0.02)
    np.testing.assert_allclose(part.plate_number(there), 17000 * ratio, rtol=1e-12)


def test_swept_drawn_changed_and_written_down_are_the_same():
    text = FOLLOWED + (
        '[[changes]]\nname = "warmer"\n'
        'set = { method = { temperature = "40 degC", flow = "0.6 mL/min" } }\n'
    )
    scenario = Scenario.from_text(text)
    axes = axes_of(scenario, ["method.temperature = 40 degC", "method.flow = 0.6 mL/min"])
    (swept,) = cases_of(scenario, axes)
    changed = scenario.with_changes("warmer")
    again = Scenario.from_text(changed.text)
    samples = sampled(scenario, 1, 1)
    drawn = replace(samples, fixed=((0, np.array([313.15])),)).itineraries(
        scenario.changed({"method.flow": "0.6 mL/min"})
    )[0]
    found = [column(one) for one in (swept, changed, again)] + [drawn.passages[2]]
    first = found[0]
    assert not np.allclose(first[0].plate_number(first[1]), 17000, rtol=1e-3)
    for part, liquid in found[1:]:
        np.testing.assert_allclose(liquid.retention_factor, first[1].retention_factor, rtol=1e-12)
        np.testing.assert_allclose(liquid.diffusivity, first[1].diffusivity, rtol=1e-12)
        np.testing.assert_allclose(
            part.plate_number(liquid), first[0].plate_number(first[1]), rtol=1e-12
        )


def test_an_oven_of_its_own_is_where_retention_was_found():
    oven = FOLLOWED.replace('part = "column"', 'part = "column"\ntemperature = "50 degC"')
    scenario = Scenario.from_text(oven)
    np.testing.assert_array_equal(column(scenario)[1].retention_factor, [2.0, 5.0])
    other = scenario.changed({"method.temperature": "20 degC"})
    np.testing.assert_allclose(column(other)[1].retention_factor, [2.0, 5.0], rtol=1e-12)
    colder = scenario.changed({"column.temperature": "40 degC"})
    expected = 5.0 * np.exp(12000 / GAS_CONSTANT * (1 / 313.15 - 1 / 323.15))
    assert column(colder)[1].retention_factor[1] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("oven", ["column", "method"])
def test_a_column_that_is_run_warmer_keeps_the_k_that_is_given_for_it(oven):
    """k of the others goes from where the file states it; later changes go on from there."""
    warm = {oven: {"temperature": "50 degC"}, "a": {"retention_factor": 1.6}}
    tables = {**Scenario.from_text(FOLLOWED).tables, "columns": [{"name": "warm", "set": warm}]}
    on = on_columns(Scenario.from_tables(tables))["warm"]
    slope = 12000 / GAS_CONSTANT
    expected = [1.6, 5.0 * np.exp(slope * (1 / 323.15 - 1 / STATED))]
    np.testing.assert_allclose(column(on)[1].retention_factor, expected, rtol=1e-12)
    hotter = on.changed({f"{oven}.temperature": "60 degC"})
    expected = [
        1.6 * np.exp(0.015 * STATED**2 * (1 / 333.15 - 1 / 323.15)),
        5.0 * np.exp(slope * (1 / 333.15 - 1 / STATED)),
    ]
    np.testing.assert_allclose(column(hotter)[1].retention_factor, expected, rtol=1e-12)


def test_a_column_that_takes_the_place_of_another_is_as_warm_as_it_says():
    new = dict(Scenario.from_text(FOLLOWED).tables["path"][1])
    new |= {"name": "new column", "temperature": "50 degC"}
    change = {"name": "other column", "replace": {"column": new}}
    tables = {**Scenario.from_text(FOLLOWED).tables, "changes": [change]}
    made = Scenario.from_tables(tables).with_changes("other column")
    expected = 5.0 * np.exp(12000 / GAS_CONSTANT * (1 / 323.15 - 1 / STATED))
    assert column(made)[1].retention_factor[1] == pytest.approx(expected, rel=1e-12)


def test_a_gradient_scales_all_retention_alike():
    text = (
        FOLLOWED.replace("retention_factor = 2.0", "kw = 2000\ns = 4.5")
        .replace("retention_factor = 5.0", "kw = 3000\ns = 4.5")
        .replace(
            "[injection]",
            '[gradient]\nprogramme = [{ time = "0 min", strong = 0.1 }, '
            '{ time = "5 min", strong = 0.9 }]\n[injection]',
        )
        .partition("[[uncertain]]")[0]
    )
    warm = Scenario.from_text(text).changed({"method.temperature": "45 degC"})
    ratios = column(warm)[0].weak_factor / np.array([2000, 3000])
    slopes = np.array([-0.015 * STATED**2, -12000 / GAS_CONSTANT])
    np.testing.assert_allclose(ratios, np.exp(-slopes * (1 / 318.15 - 1 / STATED)), rtol=1e-12)


def test_temperature_is_not_widened_while_retention_does_not_follow():
    lacking = Scenario.from_text(SCENARIO)
    with pytest.raises(StudyError, match="a, b without; add retention_change"):
        plan(lacking, widen=["method.temperature"])
    plan(Scenario.from_text(FOLLOWED), widen=["method.temperature"])


def test_a_change_that_retention_does_not_follow_is_told():
    change = '\n[[changes]]\nname = "warmer"\nset = { method = { temperature = "45 degC" } }\n'
    (line,) = kept_by_changes(Scenario.from_text(SCENARIO + change))
    assert line.startswith("warmer: retention factors kept")
    assert not [*kept_by_changes(Scenario.from_text(FOLLOWED + change))]


def test_a_dwell_volume_that_is_drawn_delays_the_gradient():
    text = (
        FOLLOWED.replace("retention_factor = 2.0", "kw = 2000\ns = 4.5")
        .replace("retention_factor = 5.0", "kw = 3000\ns = 4.5")
        .replace(
            "[injection]",
            '[gradient]\ndwell_volume = "400 uL"\nprogramme = [{ time = "0 min", strong = 0.1 }, '
            '{ time = "5 min", strong = 0.9 }]\n[injection]',
        )
        .partition("[[uncertain]]")[0]
    )
    text += (
        '[[uncertain]]\nfield = "gradient.dwell_volume"\ndistribution = "normal"\nrelative = 0.1\n'
    )
    scenario = Scenario.from_text(text)
    samples = replace(sampled(scenario, 1, 1), fixed=((0, np.array([500e-9])),))
    (part, liquid), (later, _) = column(scenario), samples.itineraries(scenario)[0].passages[2]
    delay = later.residence(liquid) - part.residence(liquid)
    # 100 uL at 0.5 mL/min
    np.testing.assert_allclose(delay, 12.0, rtol=0.02)
