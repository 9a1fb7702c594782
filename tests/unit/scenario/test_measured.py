"""``[[measured]]``: what differs is made, what is wrong is named."""

import pytest
from reference.measured import DUMMY, UNION, with_rows

from tailrace.errors import ScenarioError
from tailrace.scenario.measured import as_measured, measured_files
from tailrace.scenario.scenario import Scenario


def loaded(text, **files):
    return Scenario.from_text(text, files={"u.csv": DUMMY, "blank.csv": DUMMY} | files)


def test_what_differs_is_made():
    more = (
        'flow = "0.2 mL/min"\ninjected_volume = "2 uL"\ntime_constant = "0.5 s"\n'
        'set = { "flow cell" = { volume = "2.0 uL" }, detector = { averaged = true } }\n'
        'insert = [ { after = "tube to column", name = "union", '
        'part = "chamber", volume = "0.1 uL" } ]'
    )
    scenario = loaded(with_rows(("u", more)))
    made = as_measured(scenario, measured_files(scenario)[0])
    assert [part.name for part in made.document.path] == [
        "tube to column", "union", "tube to cell", "flow cell"
    ]  # fmt: skip
    assert made.document.method.flow == pytest.approx(0.2e-6 / 60)
    assert made.document.injection.volume == pytest.approx(2e-9)
    assert made.document.path[-1].volume == pytest.approx(2e-9)
    assert made.document.detector.time_constant == 0.5
    # the file's own points stand in place of the detector's
    assert made.document.detector.moving_average == pytest.approx(0.05)
    assert made.document.detector.rate is None
    assert [part.name for part in scenario.document.path][1] == "column"


def test_of_another_volume_there_is_as_much_of_the_sample_as_it_holds():
    """1 uL of a sample with 3 nmol, 4 uL of it: 12 nmol, however they come to be injected."""
    head = UNION.replace("[[solutes]]", '[[solutes]]\namount = "3 nmol"', 1)
    change = '[[changes]]\nname = "more"\nset = { injection = { volume = "4 uL" } }\n'
    rows = {"u": 'injected_volume = "4 uL"', "w": 'changes = ["more"]', "v": ""}
    scenario = loaded(
        with_rows(*rows.items(), head=head + change), **{"v.csv": DUMMY, "w.csv": DUMMY}
    )
    before = scenario.document.injection.volume
    assert before == pytest.approx(1e-9)
    for one, amount in zip(measured_files(scenario), (12e-9, 12e-9, 3e-9), strict=True):
        assert as_measured(scenario, one).document.solutes[0].amount == pytest.approx(amount)


def test_a_rise_time_takes_the_place_of_the_time_constant():
    scenario = loaded(with_rows(("u", 'rise_time = "0.44 s"')))
    made = as_measured(scenario, measured_files(scenario)[0])
    assert made.document.detector.time_constant is None


def test_changes_already_made_are_made():
    change = '[[changes]]\nname = "small cell"\nset = { "flow cell" = { volume = "1 uL" } }\n'
    scenario = loaded(with_rows(("u", 'changes = ["small cell"]'), head=UNION + change))
    made = as_measured(scenario, measured_files(scenario)[0])
    assert made.document.path[-1].volume == pytest.approx(1e-9)


def test_without_the_column_a_gradient_and_its_retention_are_left_out():
    gradient = '[gradient]\nprogramme = [ { time = "0 min", strong = 0.3 }, '
    gradient += '{ time = "2 min", strong = 0.9 } ]\ndwell_volume = "100 uL"\n[[solutes]]'
    head = UNION.replace("[[solutes]]", gradient, 1)
    head = head.replace("retention_factor = 1.0", "kw = 300\ns = 4.2")
    head = head.replace('viscosity = "0.9 mPa*s"', "eluent = { water = 0.45, acetonitrile = 0.55 }")
    scenario = loaded(with_rows(("u", ""), head=head))
    made = as_measured(scenario, measured_files(scenario)[0])
    assert made.document.gradient is None
    assert made.document.solutes[0].retention_factor == 0


WRONG = {
    "a missing file": ('baseline = "no.csv"', "found no such file"),
    "no signal": ('baseline = "bad.csv"', "expected lines of numbers"),
    "an unknown part": ('set = { "cell" = { volume = "1 uL" } }', "flow cell"),
    "an unknown key": ('set = { "flow cell" = { volum = "1 uL" } }', "volume"),
    "an unknown change": ('changes = ["new"]', "new"),
    "a part taken out twice over": ('solute = "other"', "marker"),
    "a window turned round": ('window = ["2 min", "1 min"]', "exchange them"),
    "rate and interval": ('rate = "5 Hz"\ninterval = "0.2 s"', "leave out one"),
    "a number without a unit": ("flow = 0.5", "flow"),
    "an unknown repeat": ('same_as = "before"', "before"),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_is_named_with_its_line(name):
    more, why = WRONG[name]
    text = with_rows(("u", more))
    with pytest.raises(ScenarioError) as refused:
        loaded(text, **{"bad.csv": b"words\n"})
    (sentence,) = refused.value.problems
    assert why in sentence
    line = int(sentence.split(":")[1])
    first = text[: text.index("[[measured]]")].count("\n") + 1
    assert first <= line <= first + 6


def test_files_are_read_once_and_hashed():
    scenario = loaded(with_rows(("u", "")))
    assert "u.csv" in scenario.files.hashes()
    again = scenario.changed({"flow cell.volume": "1 uL"})
    assert measured_files(again)[0].signal is measured_files(scenario)[0].signal


def test_mistakes_in_measured_are_told_beside_all_others():
    text = with_rows(("u", "set = { colum = { plates = 9000 } }"), ("missing", 'same_as = "x"'))
    with pytest.raises(ScenarioError) as caught:
        loaded(text.replace('flow = "0.5 mL/min"', "flow = 0.5"))
    said = str(caught.value)
    for part in (
        "expected a flow rate with a unit",
        '"column"',
        "missing.csv",
        "measured[1].same_as",
    ):
        assert part in said


def test_names_that_changes_bring_are_judged_beside_all_other_mistakes():
    change = (
        '[[changes]]\nname = "mixed"\ninsert = [ { after = "tube to column", name = "mixer", '
        'part = "chamber", volume = "1 uL" } ]\n'
    )
    head = UNION.replace("retention_factor = 1.0", "retention_factr = 1.0") + change
    rows = (
        ("u", 'changes = ["mixed"]\nset = { mixer = { volume = "2 uL" } }'),
        (
            "v",
            'changes = ["mixed"]\nset = { mixr = { volume = "2 uL" } }',
        ),
    )
    with pytest.raises(ScenarioError) as told:
        loaded(with_rows(*rows, head=head), **{"v.csv": DUMMY})
    lines = told.value.problems
    assert any("retention_factr" in line for line in lines)
    assert [line for line in lines if "measured" in line and "mixr" in line]
    assert not any("measured[0]" in line for line in lines)
