"""The signal is recorded in the cell: what lies behind it counts for pressure alone."""

import pickle

import numpy as np
import pytest

import tailrace
from tailrace.errors import ScenarioError
from tailrace.parts.behind import behind
from tailrace.parts.tube.part import Tube
from tailrace.scenario.scenario import Scenario

INSTRUMENT = """
title = "a cell"
[method]
flow = "0.4 mL/min"
eluent = { water = 0.5, acetonitrile = 0.5 }
[[solutes]]
name = "one"
retention_factor = 2
diffusivity = "1.1e-9 m^2/s"
[injection]
shape = "plug"
volume = "2 uL"
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
name = "flow cell"
part = "cell"
volume = "2.4 uL"
pressure_limit = "60 bar"
{behind}
{detector}
{changes}
"""
WASTE = """
[[path]]
name = "waste line"
part = "tube"
bore = "0.5 mm"
length = "700 mm"
"""
RESTRICTOR = WASTE.replace("0.5 mm", "0.06 mm").replace("700", "300").replace("waste", "restrictor")
SECOND = """
[[path]]
name = "second cell"
part = "cell"
volume = "13 uL"
pressure_limit = "{limit}"
"""
FIRST_CELL = '[detector]\ncell = "flow cell"\n'


def made(behind="", detector="", changes=""):
    return Scenario.from_text(
        INSTRUMENT.replace("{behind}", behind)
        .replace("{detector}", detector)
        .replace("{changes}", changes)
    )


def run(*texts):
    return tailrace.run(made(*texts))


@pytest.fixture(scope="module")
def bare():
    return run()


BEHIND = {
    "waste line": (WASTE, ""),
    "restrictor": (RESTRICTOR, ""),
    "second detector": (
        WASTE + SECOND.replace("{limit}", "90 bar") + WASTE.replace("waste", "last"),
        FIRST_CELL,
    ),
}


@pytest.mark.parametrize("what", BEHIND)
def test_what_lies_behind_the_cell_leaves_what_is_recorded_and_adds_pressure(what, bare):
    found = run(*BEHIND[what])
    for name, value in bare.recorded.items():
        assert found.recorded[name] == pytest.approx(value, rel=1e-9, abs=1e-15), name
    assert found.pressure.total > bare.pressure.total
    assert found.pressure.cell_inlet > bare.pressure.cell_inlet == 0
    more = [part for part in found.parts if part.behind]
    assert more and all(part.variance_simulated[0] == 0 for part in more)
    drops = sum(found.pressure.parts[part.name] for part in more)
    assert found.pressure.cell_inlet == pytest.approx(drops)


def test_the_last_cell_records_unless_another_is_named(bare):
    both = WASTE + SECOND.replace("{limit}", "90 bar")
    last, first = run(both), run(both, FIRST_CELL)
    assert last.recorded["variance"][0] > 1.2 * first.recorded["variance"][0]
    assert any("second cell" in line for line in made(both).assumptions())


def test_each_cell_is_held_against_what_lies_behind_it():
    tight = run(WASTE + SECOND.replace("{limit}", "5 bar") + RESTRICTOR, FIRST_CELL)
    assert [line for line in tight.warnings if line.startswith("second cell: pressure")]
    first = run(RESTRICTOR.replace("300", "900"))
    assert [line for line in first.warnings if line.startswith("flow cell: pressure")]


def test_a_cell_before_the_column_is_a_warning():
    text = INSTRUMENT.replace("{detector}", "").replace("{changes}", "").replace("{behind}", "")
    early = SECOND.replace("{limit}", "400 bar")
    two = Scenario.from_text(
        text.replace('[[path]]\nname = "column"', early + '[[path]]\nname = "column"')
    )
    assert [
        line for line in tailrace.run(two).warnings if line.startswith("second cell: a cell before")
    ]
    cell = text.index('[[path]]\nname = "flow cell"')
    swapped = text[:cell].replace(
        '[[path]]\nname = "tube"', text[cell:] + '[[path]]\nname = "tube"'
    )
    found = tailrace.run(Scenario.from_text(swapped))
    assert found.column_alone is None
    assert [line for line in found.warnings if "nothing of what column does is recorded" in line]


def test_the_cell_that_records_is_one_of_the_path():
    with pytest.raises(ScenarioError, match=r"detector.cell.*flow cell"):
        made("", '[detector]\ncell = "flaw cell"')


def test_taking_the_waste_line_off_is_worth_nothing():
    change = '[[changes]]\nname = "no waste"\nremove = ["waste line"]\n'
    result = tailrace.improve(made(WASTE, "", change))
    assert result.combinations.value[1] == pytest.approx(result.combinations.value[0], rel=1e-9)
    assert result.combinations.cell_pressure[0] > result.combinations.cell_pressure[1] == 0


def test_a_part_behind_goes_to_another_process():
    part = behind(Tube(name="waste", bore=np.float64(5e-4), length=0.7))
    again = pickle.loads(pickle.dumps(part))
    assert again == part and again.behind and again.volume == part.volume
