"""Reading what is varied: fields, lists, ranges, and what is said of slips."""

import tomllib

import numpy as np
import pytest

from tailrace.quantities.parse import parse
from tailrace.scenario.target import StudyError
from tailrace.studies.axes import axes_of, axis, cases_of

# Values in SI by hand: 1 mL/min is 1e-6 m^3 in 60 s, 0 degC is 273.15 K (BIPM, SI Brochure).
LISTS = {
    "method.flow = 0.1, 0.3, 1 mL/min": [1e-7 / 60, 3e-7 / 60, 1e-6 / 60],
    "method.flow=60 uL/min,0.3 mL/min": [1e-9, 5e-9],
    "inlet tube.length = 50 mm .. 1 m, 3 points": [0.05, 0.525, 1.0],
    '"inlet tube".length = 50 .. 100 mm, 2 points': [0.05, 0.1],
    "'inlet tube' . length = 10 .. 1000 mm, 3 points, log": [0.01, 0.1, 1.0],
    "inlet tube.length = 1 .. 100 mm, log, 3 points": [0.001, 0.01, 0.1],
    "method.temperature = 20 .. 40 degC, 2 points": [293.15, 313.15],
    "early.retention_factor = 0, 2.5": [0.0, 2.5],
    "path.late.plates = 1e3 .. 2e3, 2 points": [1000.0, 2000.0],
    "late.plates = 1e3 .. 2e3, 2 points": [1000.0, 2000.0],
    "late.retention_factor = 1, 3": [1.0, 3.0],
    "solutes.late.molar_volume = 200 cm^3/mol": [2e-4],
    "cell.tanks = 1, 2": [1.0, 2.0],
    "detector.rise_time = 0, 0.5 s": [0.0, 0.5],
    "cell.pressure_limit = 50 bar": [5e6],
}


@pytest.mark.parametrize("text", LISTS)
def test_values_are_in_si(scenario, text):
    read = axis(tomllib.loads(scenario.text), text)
    np.testing.assert_allclose(read.values, LISTS[text], rtol=1e-14)
    assert read.unit


def test_units_are_those_of_the_table_of_kinds(scenario):
    document = tomllib.loads(scenario.text)
    assert axis(document, "method.flow = 1 mL/min").unit == "m^3/s"
    assert axis(document, "cell.tanks = 2").unit == "1"
    assert axis(document, "late.particle = core-shell").unit == ""


def test_what_a_case_holds_is_read_back_as_the_same_float(scenario):
    read = axis(tomllib.loads(scenario.text), "method.flow = 0.1 .. 1 mL/min, 50 points, log")
    again = [parse(text, "flow rate") for text in read.written]
    assert again == read.values.tolist()


def test_words_and_truths(scenario):
    document = tomllib.loads(scenario.text)
    assert axis(document, "late.particle = core-shell, fully porous").written == (
        "core-shell",
        "fully porous",
    )
    assert axis(document, "detector.averaged = true, false").written == (True, False)


REFUSED = {
    "method.flwo = 1 mL/min": 'method.flwo: expected a known key, found "flwo"; write "flow"',
    "inlet tub.length = 1 mm": 'write "inlet tube"',
    "path.inlet.length = 1 mm": 'known are "inlet tube"',
    "late.platse = 1": 'write "plates"',
    "flow = 1 mL/min": "a name and a key",
    "inlet tube.bore = 1 s": 'inlet tube.bore: expected a bore with a unit such as "0.12 mm"',
    "inlet tube.bore = 1": "a bare number",
    "inlet tube.bore = 1 Mm": 'write "1 mm"',
    "inlet tube.bore = 1 m": "1 um to 100 mm",
    "inlet tube.bore = 0,17 mm": 'found "0 mm"',
    "inlet tube.bore": "found no values",
    "inlet tube.bore =": "found no values",
    "inlet tube.bore = 1 .. 2 mm": "expected a range such as",
    "inlet tube.bore = 1 .. 2 mm, 5": "expected a range such as",
    "inlet tube.bore = 1 .. 2 mm, 5 points, lag": "expected a range such as",
    "inlet tube.bore = 1 .. 2 mm, 1 point": "expected 2 to 10000 points, found 1",
    "inlet tube.bore = 1, 1 mm": "found one twice",
    "inlet tube.name = x": "expected name to stay as it is",
    "inlet tube.sigma = 1 s": 'found "sigma"',
    "injection.shape = plug": "expected shape to stay as it is",
    "method.eluent = x": 'found "eluent"',
    "detector.time_constant = 0 .. 1 s, 3 points, log": "above zero",
    "path.late.particle = coreshell": 'write "core-shell"',
    "cell.tanks = two": "a number without a unit",
    "cell.tanks = 1e999": "a number without a unit",
    ' "inlet tube.bore = 1 mm': "found no values",
    "= 1 mm": "expected names joined by points",
    "..= 1 mm": "expected names joined by points",
}


@pytest.mark.parametrize("text", REFUSED)
def test_a_slip_is_one_sentence(scenario, text):
    with pytest.raises(StudyError) as caught:
        axis(tomllib.loads(scenario.text), text)
    assert REFUSED[text] in str(caught.value)
    assert "\n" not in str(caught.value)
    assert caught.value.exit_code == 2


REFUSED_TOGETHER = [
    (["method.flow = 1 mL/min", "method.flow = 2 mL/min"], False, "each field once"),
    (["path.late.bore = 1 mm", "late.bore = 2 mm"], False, "each field once"),
    (["path.cell.tanks = 1, 2", "cell.tanks = 3"], False, "each field once"),
    (["cell.tanks = 1, 2", "method.flow = 1 mL/min"], True, "found cell.tanks 2, method.flow 1"),
    (
        ["cell.tanks = 1 .. 9, 2000 points", "late.bore = 1 .. 2 mm, 900 points"],
        False,
        "most",
    ),
    ([], False, "found none"),
]


@pytest.mark.parametrize(("vary", "together", "phrase"), REFUSED_TOGETHER)
def test_axes_that_do_not_go_together(scenario, vary, together, phrase):
    with pytest.raises(Exception, match=phrase) as caught:
        axes_of(scenario, vary, together)
    assert caught.value.exit_code == 2


# Each case must be as sound as a file: bounds of the model, rules between keys, the eluent room.
BROKEN_CASES = {
    "cell.tanks = 0.5, 1": "at cell.tanks = 0.5: path[2].tanks: expected a number of 1 or more",
    "method.eluent.water = 0.25, 1.5": "at method.eluent.water = 1.5: method.eluent.water: expec",
    "solutes.late.diffusivity = 1e-9 m^2/s": "found both; leave out one of them",
    "method.temperature = 35, 200 degC": "no viscosity at 200",
}


@pytest.mark.parametrize("text", BROKEN_CASES)
def test_a_case_is_checked_like_a_file(scenario, text):
    with pytest.raises(Exception) as caught:
        list(cases_of(scenario, axes_of(scenario, [text])))
    assert BROKEN_CASES[text] in str(caught.value)
    assert caught.value.exit_code == 2


def test_a_case_says_what_a_file_with_its_values_says(scenario, text, tmp_path):
    import tailrace

    vary = ["inlet tube.length = 200 mm", "detector.rise_time = 0.2 s"]
    (case,) = cases_of(scenario, axes_of(scenario, vary))
    file = tmp_path / "by_hand.toml"
    by_hand = text.replace('"100 mm"', '"200 mm"')
    file.write_text(by_hand.replace('time_constant = "0.1 s"', 'rise_time = "0.2 s"'))
    expected = tailrace.load(file)
    assert case.document.model_dump(exclude={"changes"}) == expected.document.model_dump(
        exclude={"changes"}
    )


def test_fractions_in_step_that_do_not_add_up(scenario):
    vary = ["method.eluent.water = 0.2", "method.eluent.acetonitrile = 0.7"]
    with pytest.raises(Exception, match=r"method\.eluent: expected volume fractions"):
        list(cases_of(scenario, axes_of(scenario, vary, True), True))


def test_fields_in_step(scenario):
    vary = ["method.eluent.water = 0.2, 0.4", "method.eluent.acetonitrile = 0.8, 0.6"]
    cases = list(cases_of(scenario, axes_of(scenario, vary, True), True))
    assert [case.document.method.eluent.composition for case in cases] == [
        {"water": 0.2, "acetonitrile": 0.8},
        {"water": 0.4, "acetonitrile": 0.6},
    ]
