"""Criteria: names of figures, limits in units, and the solute that is meant."""

import numpy as np
import pytest

import tailrace
from tailrace.errors import ScenarioError
from tailrace.scenario.criteria import criteria_of

from .test_uncertain import BASE

SECOND = '\n[[solutes]]\nname = "a/b"\nretention_factor = 3.0\ndiffusivity = "1e-9 m^2/s"\n'


def load(tmp_path, rows, base=BASE + SECOND):
    file = tmp_path / "one.toml"
    file.write_text(base + rows)
    return tailrace.load(file)


def accept(text):
    return "\n[[accept]]\n" + text + "\n"


def test_what_is_read(tmp_path):
    rows = (
        accept('measure = "plates"\nsolute = "a/b"\nat_least = 9000\nprobability = 0.9')
        + accept('measure = "tailing_5"\nat_most = 1.5')
        + accept('measure = "resolution"\nat_least = 2')
        + accept('measure = "pressure"\nat_most = "300 bar"\nconfidence = 0.99')
        + accept('measure = "width"\nsolute = "one"\nat_least = "1 s"\nat_most = "0.1 min"')
    )
    plates, tailing, resolution, pressure, width = criteria_of(load(tmp_path, rows))
    assert plates.name == "plates of a/b"
    assert plates.of == (1,)
    assert (plates.at_least, plates.probability, plates.confidence) == (9000.0, 0.9, 0.95)
    assert np.isnan(plates.at_most)
    assert tailing.name == "tailing, worst solute"
    assert tailing.of == ()
    assert resolution.name == "resolution of one/a/b"
    assert resolution.of == (0, 1)
    assert pressure.name == "pressure"
    assert (pressure.at_most, pressure.unit, pressure.confidence) == (3e7, "Pa", 0.99)
    assert (width.at_least, width.at_most, width.unit) == (1.0, pytest.approx(6.0), "s")


def test_a_single_solute_is_meant_where_there_is_one(tmp_path):
    (one,) = criteria_of(
        load(tmp_path, accept('measure = "plates"\nat_least = 1\nat_most = 2'), base=BASE)
    )
    assert one.name == "plates of one"


@pytest.mark.parametrize(
    ("rows", "text"),
    [
        ('measure = "plats"\nat_least = 1', 'write "plates"'),
        ('measure = "plates"', "expected at_least or at_most, found neither"),
        ('measure = "plates"\nat_least = "1 s"', "expected a number without a unit"),
        ('measure = "width"\nat_most = 2', "a bare number"),
        ('measure = "pressure"\nat_most = "2 s"', "is not a unit of pressure"),
        ('measure = "variance"\nat_least = 1', 'known are "extra-column variance", "absorbance"'),
        ('measure = "plates"\nsolute = "two"\nat_least = 1', "expected a known solute"),
        ('measure = "resolution"\npair = "one/two"\nat_least = 1', "expected a known pair"),
        ('measure = "resolution"\nsolute = "one"\nat_least = 1', "expected pair beside"),
        ('measure = "pressure"\nsolute = "one"\nat_most = "1 bar"', "one metric of the run"),
        ('measure = "plates"\npair = "one/a/b"\nat_least = 1', "expected no pair"),
        ('measure = "plates"\nat_least = 1\nat_most = 2', "write a row for each"),
        ('measure = "plates"\nsolute = "one"\nat_least = 3\nat_most = 2', "a limit above"),
        ('measure = "peak capacity"\nat_least = 3', 'expected "plates" without a gradient'),
        ('measure = "plates"\nat_least = 1\nprobability = 1.0', "a number below 1"),
        ('measure = "selectivity"\nsolute = "one"\nat_least = 1', "expected pair beside"),
    ],
)
def test_each_slip_has_its_sentence(tmp_path, rows, text):
    with pytest.raises(ScenarioError, match=text) as caught:
        load(tmp_path, accept(rows))
    assert len(caught.value.problems) == 1


def test_a_criterion_stands_once(tmp_path):
    one = accept('measure = "plates"\nsolute = "one"\nat_least = 1')
    with pytest.raises(ScenarioError, match="found it again"):
        load(tmp_path, one + one)


def test_a_resolution_needs_two_solutes(tmp_path):
    with pytest.raises(ScenarioError, match="expected two solutes"):
        load(tmp_path, accept('measure = "resolution"\nat_least = 1'), base=BASE)
