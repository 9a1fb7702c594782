"""Measured and published values beside what the model makes of them (ASME V&V 20-2009).

Whatever is not stated with a measured value is assumed here, with the uncertainty that this leaves
in the model's answer (``u_input``).
"""

import csv
from collections.abc import Iterator
from importlib import resources

import numpy as np

from tailrace.eluent.diffusion import wilke_chang
from tailrace.eluent.stream import Stream
from tailrace.eluent.viscosity import viscosity
from tailrace.measurements.measuring import measured_file
from tailrace.measurements.reading import load_signal
from tailrace.parts import KINDS
from tailrace.parts.injector.part import Injector
from tailrace.parts.tube.bent.theory import cumulants
from tailrace.parts.tube.part import Tube
from tailrace.studies.qualifying.result import Compared

SCOTT = "Scott and Simpson, J. Chromatogr. Sci. 20 (1982) 62, abstract (journal from memory)"
HANDBOOK = "Snyder, Kirkland and Dolan 2010, appendix I, second-hand"
INTEGRATOR = "the integration of the instrument itself, in its ASTM E1947 file"
MICRO = 20e-9 / 60
"""m^3/s; 20 uL/min."""
SMALL, UNSURE = 1.4e-9, 0.25e-9
"""m^2/s: diffusivity of a small solute in an aqueous eluent, where none is stated (our own choice),
and its standard uncertainty."""
COARSE = 0.05
"""Relative standard uncertainty of the handbook's viscosities (our own choice; two decimals, and a
hot end that is doubtful)."""
DATA = resources.files("tailrace.studies.qualifying").joinpath("data")


def compared() -> tuple[Compared, ...]:
    """All values, kind by kind."""
    return (*_tubes(), *_bends(), *_injections(), *_viscosities(), *_diffusivities(), *_peaks())


def _tubes() -> Iterator[Compared]:
    length = 0.1
    slopes = [
        float(np.max(KINDS["tube"].theory(_tube(length), _stream(value)).variance))
        * MICRO**2
        * 1e18
        / (100 * length)
        for value in (SMALL, SMALL - UNSURE, SMALL + UNSURE)
    ]
    yield Compared(
        quantity="variance of a straight tube",
        name="0.254 mm, 20 uL/min, per cm",
        unit="uL^2",
        model=slopes[0],
        measured=0.093,
        u_num=1.2e-4 * slopes[0],
        u_input=abs(slopes[1] - slopes[2]) / 2,
        u_measured=0.005,
        source=f"{SCOTT}; solute and eluent not stated, reading taken as good to 5 %",
    )


def _tube(length: float) -> Tube:
    return Tube(name="tube", bore=0.254e-3, length=length)


def _stream(diffusivity: float) -> Stream:
    return Stream(flow_rate=MICRO, diffusivity=diffusivity, viscosity=1e-3)


def _bends() -> Iterator[Compared]:
    strength, length = 1e5, 3.0
    ends = [cumulants(0.01, strength, at)[0] for at in (length, 2 * length)]
    found = 24 * (ends[1] - ends[0]) / length
    yield Compared(
        quantity="dispersion in a bent tube",
        name="plateau over that of a straight tube",
        unit="1",
        model=found,
        measured=0.2,
        u_num=0.02 * found,
        u_input=0.05 * found,
        u_measured=0.02,
        source='Johnson and Kamm, J. Fluid Mech. 172 (1986) 329, abstract: "about 0.2"; C = 1e5',
    )


def _injections() -> Iterator[Compared]:
    plug = Injector(shape="plug", volume=0.2e-9)
    square = float(np.max(KINDS["injector"].theory(plug, _stream(SMALL)).variance)) * MICRO**2
    yield Compared(
        quantity="variance of an injection",
        name="valve of 0.2 uL as a plug, 20 uL/min",
        unit="uL^2",
        model=square * 1e18,
        measured=0.054,
        u_num=0.0,
        u_input=0.0,
        u_measured=0.003,
        source=f"{SCOTT}; a valve is no plug: give a washout, or measure yours",
    )


def _viscosities() -> Iterator[Compared]:
    for organic in ("acetonitrile", "methanol"):
        text = DATA.joinpath(f"viscosity_{organic}.csv").read_text("utf-8")
        lines = [one for one in text.splitlines() if not one.startswith("#")]
        for row in csv.DictReader(lines):
            celsius, share, value = (float(one) for one in row.values())
            mixed = {"water": 1 - share, organic: share}
            found = 1e3 * float(
                viscosity({name: one for name, one in mixed.items() if one}, celsius + 273.15)
            )
            yield Compared(
                quantity=f"viscosity, water and {organic}",
                name=f"{100 * share:g} % {organic}, {celsius:g} degC",
                unit="mPa s",
                model=found,
                measured=value,
                u_num=0.0,
                u_input=0.0,
                u_measured=float(np.hypot(COARSE * value, 0.005 / np.sqrt(3))),
                source=HANDBOOK,
            )


def _diffusivities() -> Iterator[Compared]:
    water = {"water": 1.0}
    for name, volume, kelvin, value in (
        ("ethylbenzene in water, 20 degC", 140.4e-6, 293.15, 0.81e-9),
        ("benzene in water, 25 degC", 96.0e-6, 298.15, 1.02e-9),
    ):
        found = float(wilke_chang(volume, water, kelvin, float(viscosity(water, kelvin))))
        yield Compared(
            quantity="diffusivity, estimated",
            name=name,
            unit="m^2/s",
            model=found,
            measured=value,
            u_num=0.0,
            u_input=0.0,
            u_measured=0.03 * value,
            source="Poling, Prausnitz and O'Connell, 5th ed., chapter 11 (from memory)",
        )


def _peaks() -> Iterator[Compared]:
    with resources.as_file(DATA.joinpath("trace.cdf")) as path:
        signal = load_signal(path)
    found = measured_file(signal)
    for field, unit in (("apex", "s"), ("area", "mAU s"), ("height", "mAU")):
        word = {"apex": "retention time"}.get(field, field)
        values = np.asarray(getattr(found, f"mark_{field}"), dtype=float)
        for number, (one, mark) in enumerate(zip(values, signal.marks, strict=True), start=1):
            own = float(getattr(mark, field))
            yield Compared(
                quantity=f"{word} of a measured peak",
                name=f"peak {number}, {word}",
                unit=unit,
                model=float(one),
                measured=own,
                u_num=0.0,
                u_input=0.0,
                u_measured=abs(own) * 1e-4,
                source=INTEGRATOR,
            )
