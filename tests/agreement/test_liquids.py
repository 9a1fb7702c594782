"""Viscosity, diffusion, pressure and volumes against published and handbook values."""

import numpy as np
import pytest
from reference.journeys import stream

from tailrace.eluent.diffusion import TYPICAL_ERROR, rescaled, wilke_chang
from tailrace.eluent.pressure import hagen_poiseuille, kozeny_carman, reynolds_number
from tailrace.eluent.stream import Stream
from tailrace.eluent.viscosity import viscosity
from tailrace.parts.tube.part import Tube

WATER = {"water": 1.0}
INCH, MILLILITRE_A_MINUTE = 25.4e-3, 1e-6 / 60

# degC: mPa s at 0.101325 MPa, computed from IAPWS R12-08 (2008), whose own check table was met
IAPWS = {
    10: 1.305900,
    20: 1.001596,
    25: 0.890022,
    30: 0.797222,
    40: 0.652729,
    50: 0.546516,
    60: 0.466035,
    80: 0.354051,
    90: 0.314175,
}


@pytest.mark.parametrize("celsius", IAPWS)
def test_water(celsius):
    # SR6-08 states 1 % for its formula
    assert viscosity(WATER, celsius + 273.15) == pytest.approx(1e-3 * IAPWS[celsius], rel=0.01)


# organic volume fraction: mPa s at 25 degC; handbook tables of the trade, from memory, within 5 %
# (Colin and others, J. Chromatogr. 167 (1978) 41 and Thompson and others, ibid. A 1134 (2006) 201
# hold such tables; neither was at hand)
ACETONITRILE = {0.2: 0.98, 0.4: 0.89, 0.6: 0.71, 0.8: 0.51, 1.0: 0.355}
# 0.8 of methanol: the handbook's table by mass at 20 degC (70 %: 1.368, 80 %: 1.128 mPa s; 0.8 by
# volume is 76 % by mass), carried to 25 degC by the ratio of its neighbours
METHANOL = {0.2: 1.40, 0.4: 1.62, 0.5: 1.60, 0.6: 1.54, 0.8: 1.10, 1.0: 0.55}
MIXTURES = [("acetonitrile", *row) for row in ACETONITRILE.items()]
MIXTURES += [("methanol", *row) for row in METHANOL.items()]


@pytest.mark.parametrize(("liquid", "share", "expected"), MIXTURES)
def test_mixtures_with_water(liquid, share, expected):
    bar = 0.10 if (liquid, share) == ("methanol", 1.0) else 0.05
    found = viscosity({"water": 1 - share, liquid: share}, 298.15)
    assert found == pytest.approx(1e-3 * expected, rel=bar)


@pytest.mark.parametrize(("celsius", "expected"), [(20, 0.585278), (25, 0.543689), (40, 0.441624)])
def test_pure_methanol(celsius, expected):
    # from an open equation of state, computed beforehand; the correlation holds within 10 %
    assert viscosity({"methanol": 1.0}, celsius + 273.15) == pytest.approx(
        1e-3 * expected, rel=0.10
    )


# Poling, Prausnitz and O'Connell, The Properties of Gases and Liquids, 5th ed., Example 11-5:
# ethylbenzene (140.4 cm^3/mol) in water, 293 K, 1.0 cP: 0.77e-5 cm^2/s (from memory, rounded);
# the others are Wilke and Chang's formula (AIChE J. 1 (1955) 264) worked by hand with 2.6
WORKED = [
    (140.4, 293.0, 1.0, 0.77e-5, 0.01),
    (140.4, 293.0, 1.0, 7.63806e-6, 1e-5),
    (96.0, 298.15, 0.89, 1.09703e-5, 1e-5),
    (200.0, 298.15, 0.89, 7.06256e-6, 1e-5),
]


@pytest.mark.parametrize(("molar_volume", "temperature", "centipoise", "expected", "bar"), WORKED)
def test_wilke_and_chang(molar_volume, temperature, centipoise, expected, bar):
    found = wilke_chang(molar_volume * 1e-6, WATER, temperature, centipoise * 1e-3)
    assert found == pytest.approx(expected * 1e-4, rel=bar)


# measured, cm^2/s (handbook values, from memory)
@pytest.mark.parametrize(
    ("molar_volume", "temperature", "centipoise", "measured"),
    [(140.4, 293.0, 1.0, 0.81e-5), (96.0, 298.15, 0.89, 1.02e-5)],
)
def test_estimates_are_within_the_stated_error(molar_volume, temperature, centipoise, measured):
    found = wilke_chang(molar_volume * 1e-6, WATER, temperature, centipoise * 1e-3)
    assert found == pytest.approx(measured * 1e-4, rel=TYPICAL_ERROR)


def test_diffusion_in_a_mixture_is_weighted_by_moles():
    # Perkins and Geankoplis, Chem. Eng. Sci. 24 (1969) 1035: phi M over mole fractions. By hand for
    # equal volumes: 55.346 mol/L water against 24.541 mol/L methanol
    found = wilke_chang(100e-6, {"water": 0.5, "methanol": 0.5}, 300.0, 1e-3)
    water = 55.346 / (55.346 + 24.541)
    weighted = water * 2.6 * 18.015 + (1 - water) * 1.9 * 32.042
    expected = 7.4e-12 * np.sqrt(weighted) * 300 / 100**0.6
    assert found == pytest.approx(expected, rel=1e-4)


def test_rescaling_keeps_viscosity_times_diffusion_over_temperature():
    # Stokes and Einstein; water from 25 to 60 degC
    there = rescaled(1e-9, 298.15, 333.15, 0.890022e-3, 0.466035e-3)
    assert there * 0.466035 / 333.15 == pytest.approx(1e-9 * 0.890022 / 298.15, rel=1e-12)


# 1 mL/min through 1 m: bore mm, mPa s, kg/m^3: MPa by Hagen and Poiseuille, Reynolds number;
# worked by hand
PRESSURES = [
    (0.12, 1.0, 1000.0, 3.274793, 176.8388),
    (0.17, 1.0, 1000.0, 0.813042, 124.8274),
    (0.25, 1.0, 1000.0, 0.173840, 84.88264),
    (0.12, 0.89002, 997.05, 2.914631, 198.1047),
    (0.25, 0.89002, 997.05, 0.154721, 95.09026),
]


@pytest.mark.parametrize(("bore", "thickness", "density", "drop", "reynolds"), PRESSURES)
def test_pressure_drop_and_reynolds_number(bore, thickness, density, drop, reynolds):
    passing = Stream(
        flow_rate=MILLILITRE_A_MINUTE,
        diffusivity=1e-9,
        viscosity=thickness * 1e-3,
        density=density,
    )
    assert hagen_poiseuille(passing, bore * 1e-3, 1.0) == pytest.approx(drop * 1e6, rel=1e-5)
    assert reynolds_number(passing, bore * 1e-3) == pytest.approx(reynolds, rel=1e-5)


def test_pressure_of_a_packed_bed():
    # Carman 1937 by hand: 180 (0.6/0.4)^2/0.4 = 1012.5; eta L u / d^2 with u = 1 mm/s, 5 um, 0.1 m
    bore = np.sqrt(4 * 1e-8 / (np.pi * 1e-3))
    drop = kozeny_carman(stream(), bore, 0.1, 5e-6, 0.4)
    assert drop == pytest.approx(1012.5 * 1e-3 * 0.1 * 1e-3 / 25e-12, rel=1e-12)


# common practice, no source: volume of a centimetre of tube by its bore in inches
@pytest.mark.parametrize(("bore", "microlitres"), [(0.010, 0.51), (0.005, 0.13), (0.007, 0.25)])
def test_volume_of_a_centimetre_of_tube(bore, microlitres):
    tube = Tube(name="tube", bore=bore * INCH, length=0.01)
    assert tube.volume * 1e9 == pytest.approx(microlitres, abs=0.005)
