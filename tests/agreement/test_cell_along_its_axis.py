"""A cell given by bore and length: the mean over the plug that is in it, against closed form."""

import numpy as np
import pytest
from scipy.special import ndtr

from tailrace.errors import PartError, TailraceError
from tailrace.journey import travel
from tailrace.journey.product import multiply
from tailrace.parts.cell.part import Cell
from tailrace.scenario.scenario import Scenario

SCENARIO = """
[method]
flow = "0.6 mL/min"
eluent = { water = 1 }
[[solutes]]
name = "one"
diffusivity = "1e-9 m^2/s"
[injection]
shape = "gaussian"
sigma = "0.2 s"
[[path]]
name = "cell"
part = "cell"
bore = "1 mm"
length = "10 mm"
"""
RESIDENCE = np.pi / 4 * 1e-6 * 0.01 / 1e-8
"""s: bore^2 pi/4 times length over 0.6 mL/min = 1e-8 m^3/s."""


def test_the_curve_is_that_of_a_gaussian_and_a_plug():
    result = travel(Scenario.from_text(SCENARIO).itinerary())
    band = result.recorded_band
    # the mean over [t - T, t] of the Gaussian
    expected = (ndtr(band.times[0] / 0.2) - ndtr((band.times[0] - RESIDENCE) / 0.2)) / RESIDENCE
    assert band.values[0] == pytest.approx(expected, abs=2e-5 * expected.max())
    assert result.recorded["variance"][0] == pytest.approx(0.04 + RESIDENCE**2 / 12, rel=1e-7)
    assert result.recorded["mean"][0] == pytest.approx(RESIDENCE / 2, rel=1e-7)


def test_multiplied_it_gives_the_same():
    tube = '[[path]]\nname = "tube"\npart = "tube"\nbore = "0.17 mm"\nlength = "400 mm"\n'
    filtered = SCENARIO.replace("[[path]]", f"{tube}[[path]]", 1)
    marched, multiplied = (
        way(Scenario.from_text(filtered).itinerary()) for way in (travel, multiply)
    )
    for name in ("variance", "skewness", "width_half", "tailing_5"):
        apart = np.abs(multiplied.recorded[name] - marched.recorded[name])
        assert apart <= marched.numerical_error[name] + multiplied.numerical_error[name], name


def test_its_length_is_the_light_path_and_volume_and_tanks_are_refused_beside_it():
    cell = Scenario.from_text(SCENARIO).itinerary().passages[1][0]
    assert (cell.light_path, cell.read) == (0.01, "axis")
    assert cell.volume == pytest.approx(np.pi / 4 * 1e-8)
    for extra in ("tanks = 2", 'volume = "2 uL"', 'read = "outlet"'):
        with pytest.raises(TailraceError, match="found both"):
            Scenario.from_text(SCENARIO + extra + "\n")
    with pytest.raises(TailraceError, match="the key length beside bore"):
        Scenario.from_text(SCENARIO.replace('length = "10 mm"\n', ""))
    with pytest.raises(PartError, match="expected outlet or mean or axis"):
        Cell(name="cell", volume=1e-9, read="along")


def test_by_volume_and_length():
    text = SCENARIO.replace('bore = "1 mm"', 'volume = "5 uL"')
    cell = Scenario.from_text(text).itinerary().passages[1][0]
    assert (cell.volume, cell.read) == (pytest.approx(5e-9), "axis")
