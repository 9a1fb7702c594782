"""Answers that are known: closed forms, exact chains, published tables; each with its source.

No number here is what this program gave: each was computed from its formula or read in its table.
"""

from collections.abc import Iterator

import numpy as np

from tailrace.eluent.density import density
from tailrace.eluent.diffusion import scheibel, schroeder, wilke_chang
from tailrace.eluent.stream import Stream
from tailrace.eluent.viscosity import viscosity
from tailrace.journey.result import Result
from tailrace.journey.travelling import travel
from tailrace.measures.registry import METRICS
from tailrace.measures.shape import HALF_HEIGHT
from tailrace.parts.column.packing import core_factor, effective_medium
from tailrace.parts.column.part import Column
from tailrace.parts.tube.bent.theory import cumulants
from tailrace.scenario.scenario import Scenario
from tailrace.studies.qualifying.result import Known
from tailrace.studies.tolerance.judging import clopper_pearson
from tailrace.studies.tolerance.statistics import least_samples

EXACT, MARCHED = 1e-6, 5e-4
LATER = 1e-4
FLOW = 1e-6 / 60
"""m^3/s; 1 mL/min."""
START = """
[method]
flow = "1 mL/min"
temperature = "25 degC"
eluent = { water = 1.0 }
[[solutes]]
name = "a"
diffusivity = "1e-9 m^2/s"
"""
TUBE = 'name = "tube"\npart = "tube"\nbore = "0.12 mm"\n'
FOURIER = {0.1: (0.5370893, 1.156034), 0.3: (0.7957974, 0.6835656), 1.0: (0.9375002, 0.3704382)}
"""Variance over Taylor's and skewness of straight tubes by Fourier number, without diffusion along
the axis: Graetz' eigenfunctions, summed."""
EMG = {
    "width_half": ("s", 2.8908904),
    "tailing_5": ("1", 1.228212),
    "asymmetry_10": ("1", 1.362180),
}
EMG_HEIGHT = 0.3128284
"""Of a Gaussian of 1 s with an exponential of 1 s; its height in 1/s."""
SQUARES = {
    "plug of 5 uL": 25 / 12,
    "mixed volume of 40 uL": 1600.0,
    "cell of 8 uL, 2 tanks": 32.0,
    "filter of 0.1 s": (0.1 * 1000 / 60) ** 2,
}
WATER = ((10, 1.3059, 999.7025), (25, 0.890022, 997.0476), (60, 0.466035, 983.1958))
"""degC, mPa s, kg/m^3."""
BENT = ((300.0, 1.0, 0.82828), (1000.0, 1.0, 0.49796), (3000.0, 0.3, 0.30933))
CELL = '[[path]]\nname = "cell"\npart = "cell"\nlight_path = "10 mm"\n'
CURVE = {"fully porous": 12208.8906, "core-shell": 18619.8281}
"""Of 5 um particles, 150 x 4.6 mm, k = 2, 1e-9 m^2/s, 1 mL/min."""
PLUG = '[injection]\nshape = "plug"\nvolume = "1 uL"\n'
COLUMN = """
[[path]]
name = "column"
part = "column"
bore = "4.6 mm"
length = "150 mm"
particle_diameter = "5 um"
porosity = 0.65
"""


def answers() -> Iterator[Known]:
    """All of them, the quick ones first."""
    yield from _liquids()
    yield from _packing()
    yield from _statistics()
    yield from _pressures()
    yield from _retention()
    yield from _bends()
    yield from _tubes()
    yield from _journeys()


def _liquids() -> Iterator[Known]:
    water, iapws = {"water": 1.0}, "IAPWS R12-08 and IAPWS-95 at 0.101325 MPa"
    for celsius, thick, heavy in WATER:
        at = celsius + 273.15
        found = (1e3 * float(viscosity(water, at)), float(density(water, at)))
        yield _known(f"viscosity of water, {celsius} degC", "mPa s", thick, found[0], 5e-4, iapws)
        yield _known(f"density of water, {celsius} degC", "kg/m^3", heavy, found[1], 1e-5, iapws)
    known = "for 96 cm^3/mol in water at 298.15 K and 0.89 mPa s, worked by hand"
    about = (96e-6, water, 298.15, 0.89e-3)
    for name, expected, computed in (
        ("Wilke and Chang 1955", 1.09703e-9, wilke_chang(*about)),
        ("Scheibel 1954", 1.02225e-9, scheibel(*about)),
    ):
        yield _known(f"diffusivity, {name}", "m^2/s", expected, float(computed), 1e-4, known)
    volume, source = 1e6 * schroeder("C6H6", 1), "Schroeder's contributions, added by hand"
    yield _known("molar volume of benzene", "cm^3/mol", 98.0, volume, EXACT, source)


def _packing() -> Iterator[Known]:
    hand = "{}, worked by hand"
    for name, expected, found, source in (
        ("C term of a core of 0.7", 0.485082, core_factor(0.7), "Kaczmarski and Guiochon 2007"),
        ("effective medium, 0.5 in 0.6", 0.678571, effective_medium(0.5, 0.6), "Maxwell 1873"),
    ):
        yield _known(name, "1", expected, float(found), 2 * EXACT, hand.format(source))
    for particle, plates in CURVE.items():
        kind = COLUMN.replace("porosity = 0.65", f'particle = "{particle}"')
        retained = START.replace('name = "a"', 'name = "a"\nretention_factor = 2.0')
        part, stream = Scenario.from_text(retained + PLUG + kind).itinerary().passages[1]
        assert isinstance(part, Column)
        found = float(np.ravel(part.plate_number(stream))[0])
        name = f"plates of the curve, {particle}"
        yield _known(name, "1", plates, found, EXACT, "its terms, worked by hand from the guide")


def _statistics() -> Iterator[Known]:
    for name, expected, found, source in (
        ("samples for one limit", 59.0, least_samples(0.95, 0.95, 1), "Wilks 1941"),
        ("samples for two limits", 93.0, least_samples(0.95, 0.95, 2), "Wilks 1941"),
        (
            "lower bound of 59 of 59",
            0.05 ** (1 / 59),
            clopper_pearson(59, 59, 0.95, 1)[0],
            "Clopper and Pearson 1934: 0.05^(1/59)",
        ),
        ("plates of a Gaussian from its half height", 5.545177444, HALF_HEIGHT, "8 ln 2"),
    ):
        yield _known(name, "1", expected, float(found), EXACT, source)


def _pressures() -> Iterator[Known]:
    text = f'{START}{PLUG}[[path]]\n{TUBE}length = "1 m"\n'
    tube, stream = Scenario.from_text(text).itinerary().passages[1]
    column = Column(name="c", bore=4.6e-3, length=0.15, particle_diameter=5e-6)
    for name, expected, part, source in (
        ("1 m of 0.12 mm", 29.14631, tube, "Hagen and Poiseuille"),
        ("150 x 4.6 mm of 5 um", 54.22384, column, "Carman 1937, constant 180, porosity 0.4"),
    ):
        found = float(np.max(part.pressure_drop(stream))) / 1e5
        whole = f"{source}, 0.890022 mPa s, worked by hand"
        yield _known(f"pressure of {name}, 1 mL/min", "bar", expected, found, 5e-4, whole)


def _retention() -> Iterator[Known]:
    given = 'name = "a"\nretention_factor = 2.0\nretention_enthalpy = "-12 kJ/mol"'
    text = START.replace('name = "a"', given) + PLUG + COLUMN
    warm = Scenario.from_text(text).changed({"method.temperature": "45 degC"})
    found = float(warm.itinerary().passages[1][1].retention_factor[0])  # type: ignore[index]
    source = "van 't Hoff with -12 kJ/mol, worked by hand"
    yield _known("k of 2.0 at 25 degC, at 45 degC", "1", 1.4753, found, LATER, source)
    flow = float(np.pi / 4 * 4.6e-3**2 * 0.15 * 0.65 / 60)
    programme = '[{ time = "0 s", strong = 0.05 }, { time = "600 s", strong = 0.95 }]'
    gradient = f'[gradient]\nprogramme = {programme}\ndwell_volume = "{30 * flow!r} m^3"\n'
    given = 'name = "a"\nkw = 1000\ns = 10'
    text = START.replace("1 mL/min", f"{flow!r} m^3/s").replace('name = "a"', given)
    part, stream = Scenario.from_text(text + gradient + PLUG + COLUMN).itinerary().passages[1]
    assert isinstance(part, Column)
    found = float(np.ravel(part.residence(stream))[0])
    source = "Snyder, Dolan and Gant 1979, worked by hand and integrated"
    yield _known("retention time in a linear gradient", "s", 277.762282, found, EXACT, source)
    lumped = Column(
        name="c",
        bore=4.6e-3,
        length=0.15,
        particle_diameter=5e-6,
        porosity=0.65,
        kinetics="lumped",
        mass_transfer_rate=1.0,
    )
    slow = lumped.variances(Stream(flow_rate=flow, diffusivity=1e-9, retention_factor=2.0))[1]
    source = "Lapidus and Amundson 1952: 2 t0 k / rate, t0 = 60 s"
    yield _known("variance of exchange at 1/s, k = 2", "s^2", 240.0, float(slow), EXACT, source)


def _bends() -> Iterator[Known]:
    source = "finite volumes and random walkers, computed apart"
    for strength, length, ratio in BENT:
        # loose bends: the bend counts by C alone where De is small
        found = cumulants(0.01, strength, length)[0] / (length / 24)
        name = f"variance of a bent tube over Taylor's, C = {strength:g}, X = {length:g}"
        yield _known(name, "1", ratio, found, 5e-4, source)


def _tubes() -> Iterator[Known]:
    source = "Graetz' eigenfunctions, summed; Aris 1956 for the axis"
    for fourier, (ratio, skew) in FOURIER.items():
        length = float(fourier * FLOW / (np.pi * 1e-9))
        band = '[injection]\nshape = "gaussian"\nsigma = "20 ms"\n'
        found = _run(f'{START}{band}[[path]]\n{TUBE}length = "{length!r} m"\n')
        whole = np.pi * 0.06e-3**2 * length / FLOW
        radial = ratio * whole**2 / (24 * fourier)
        # diffusion along the axis adds 2 D tau / U^2
        added = radial + 2e-9 * whole**3 / length**2
        here = float(found.parts[1].variance_simulated[0])
        name = f"Fourier number {fourier:g}"
        yield _known(f"variance of a tube, {name}", "s^2", added, here, MARCHED, source)
        third = skew * radial**1.5 / (added + 0.02**2) ** 1.5
        here = float(found.recorded["skewness"][0])
        yield _known(f"skewness behind it, {name}", "1", third, here, 1e-3, source)


def _journeys() -> Iterator[Known]:
    chain = _run(
        f"{START}{PLUG.replace('1 uL', '5 uL')}"
        '[[path]]\nname = "mixer"\npart = "chamber"\nvolume = "40 uL"\n'
        f'{CELL}volume = "8 uL"\ntanks = 2\n[detector]\ntime_constant = "0.1 s"\n'
    )
    source = "closed form (Sternberg 1966; MacMullin and Weber 1935)"
    for (name, square), part in zip(SQUARES.items(), chain.parts, strict=True):
        found = float(part.variance_simulated[0]) * FLOW**2 * 1e18
        yield _known(f"variance of a {name}", "uL^2", square, found, MARCHED, source)
    seen = 'name = "a"\namount = "1 nmol"\nabsorptivity = "10000 L/mol/cm"'
    band = '[injection]\nshape = "gaussian"\nsigma = "1 s"\n'
    whole = f'{CELL}volume = "1 nL"\n[detector]\ntime_constant = "1 s"\n'
    peak = _run(START.replace('name = "a"', seen) + band + whole)
    source = "exponentially modified Gaussian, roots found with a general library"
    for name, (unit, value) in EMG.items():
        what = f"{METRICS[name].label} of a Gaussian behind a filter"
        yield _known(what, unit, value, float(peak.recorded[name][0]), MARCHED, source)
    height = EMG_HEIGHT * 1e-9 / FLOW * 1000.0 * 1e-2
    found = float(peak.signal["absorbance"][0])
    yield _known("its absorbance", "AU", height, found, MARCHED, "Beer and Lambert on that curve")


def _run(text: str) -> Result:
    return travel(Scenario.from_text(text).itinerary())


def _known(
    name: str, unit: str, expected: float, found: float, within: float, source: str
) -> Known:
    return Known(name=name, unit=unit, expected=expected, found=found, within=within, source=source)
