"""The table of kinds: for each, its SI unit, its bounds and why, and how it is written."""

import math
from dataclasses import dataclass

from tailrace.errors import QuantityError


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One kind of quantity.

    Parameters
    ----------
    name : str
        As it reads in a sentence, with its article.
    unit : str
        SI unit; every value inside tailrace is in it.
    lowest, greatest : float, in ``unit``
        Hard bounds. They catch slips of a unit, not unusual designs.
    bounds : str
        The bounds as a person reads them, and why.
    units : tuple of (str, float)
        The trade's units, the usual one first, and what one of them is in ``unit``.
    offset : float, in ``unit``
        Zero of the trade's unit; only degrees Celsius have one.
    examples : tuple of str
    """

    name: str
    unit: str
    lowest: float
    greatest: float
    bounds: str
    units: tuple[tuple[str, float], ...]
    examples: tuple[str, ...]
    offset: float = 0.0

    @property
    def usual_unit(self) -> str:
        """The trade's first unit for this kind."""
        return self.units[0][0]


KINDS = {
    "length": Kind(
        name="a length",
        unit="m",
        lowest=1e-6,
        greatest=100.0,
        bounds="1 um to 100 m, the span of gaps and coils in an instrument",
        units=(("mm", 1e-3), ("um", 1e-6), ("m", 1.0)),
        examples=("100 mm", "4 in"),
    ),
    "bore": Kind(
        name="a bore",
        unit="m",
        lowest=1e-6,
        greatest=0.1,
        bounds="1 um to 100 mm, from a nano tube to a preparative column",
        units=(("mm", 1e-3), ("um", 1e-6)),
        examples=("0.12 mm", "0.005 in"),
    ),
    "bend radius": Kind(
        name="a bend radius",
        unit="m",
        lowest=1e-3,
        greatest=100.0,
        bounds="1 mm to 100 m, from a tight bend to a tube that is as good as straight",
        units=(("mm", 1e-3), ("m", 1.0)),
        examples=("40 mm",),
    ),
    "particle diameter": Kind(
        name="a particle diameter",
        unit="m",
        lowest=1e-7,
        greatest=5e-4,
        bounds="0.1 um to 500 um, the span of packings",
        units=(("um", 1e-6),),
        examples=("2.7 um",),
    ),
    "volume": Kind(
        name="a volume",
        unit="m^3",
        lowest=1e-15,
        greatest=1e-4,
        bounds="1 pL to 100 mL, from a window in a nano tube to a preparative mixer",
        units=(("uL", 1e-9), ("nL", 1e-12), ("mL", 1e-6)),
        examples=("2 uL",),
    ),
    "flow rate": Kind(
        name="a flow rate",
        unit="m^3/s",
        lowest=1e-12 / 60,
        greatest=1e-4 / 60,
        bounds="1 nL/min to 100 mL/min, from nano to semi-preparative pumps",
        units=(("mL/min", 1e-6 / 60), ("uL/min", 1e-9 / 60)),
        examples=("0.60 mL/min",),
    ),
    "temperature": Kind(
        name="a temperature",
        unit="K",
        lowest=223.15,
        greatest=523.15,
        bounds="-50 degC to 250 degC, where eluents are liquid",
        units=(("degC", 1.0), ("K", 1.0)),
        examples=("35 degC", "308.15 K"),
        offset=273.15,
    ),
    "diffusivity": Kind(
        name="a diffusivity",
        unit="m^2/s",
        lowest=1e-13,
        greatest=1e-7,
        bounds="1e-13 m^2/s to 1e-7 m^2/s, from large polymers to small molecules in hot liquids",
        units=(("m^2/s", 1.0),),
        examples=("1.1e-9 m^2/s",),
    ),
    "viscosity": Kind(
        name="a viscosity",
        unit="Pa*s",
        lowest=1e-5,
        greatest=10.0,
        bounds="0.01 mPa*s to 10 Pa*s, from a dense gas to a thick oil",
        units=(("mPa*s", 1e-3),),
        examples=("0.45 mPa*s",),
    ),
    "relative deviation": Kind(
        name="a relative standard deviation",
        unit="1",
        lowest=0.0,
        greatest=10.0,
        bounds="0 % to 1000 %",
        units=(("%", 0.01),),
        examples=("1 %",),
    ),
    "molar volume": Kind(
        name="a molar volume",
        unit="m^3/mol",
        lowest=5e-6,
        greatest=1e-2,
        bounds="5 cm^3/mol to 10000 cm^3/mol, at the boiling point",
        units=(("cm^3/mol", 1e-6),),
        examples=("180 cm^3/mol",),
    ),
    "duration": Kind(
        name="a duration",
        unit="s",
        lowest=1e-6,
        greatest=3600.0,
        bounds="1 us to 1 h, the span of what electronics and peaks do",
        units=(("s", 1.0), ("ms", 1e-3), ("min", 60.0)),
        examples=("0.5 s", "50 ms"),
    ),
    "response time": Kind(
        name="a response time",
        unit="s",
        lowest=0.0,
        greatest=3600.0,
        bounds='"0 s" (no filter) to 1 h',
        units=(("s", 1.0), ("ms", 1e-3)),
        examples=("0.5 s", "50 ms"),
    ),
    "programme time": Kind(
        name="a time of a programme",
        unit="s",
        lowest=0.0,
        greatest=86400.0,
        bounds='"0 min" to 24 h, the span of gradients',
        units=(("min", 60.0), ("s", 1.0), ("h", 3600.0)),
        examples=("0 min", "12.5 min"),
    ),
    "effort": Kind(
        name="a working time",
        unit="s",
        lowest=0.0,
        greatest=86400.0 * 365,
        bounds="none to a year of work",
        units=(("min", 60.0), ("h", 3600.0)),
        examples=("20 min", "2 h"),
    ),
    "pressure": Kind(
        name="a pressure",
        unit="Pa",
        lowest=1e3,
        greatest=1e9,
        bounds="0.01 bar to 10000 bar",
        units=(("bar", 1e5), ("MPa", 1e6), ("kPa", 1e3)),
        examples=("400 bar",),
    ),
    "rate": Kind(
        name="a rate",
        unit="s^-1",
        lowest=1e-4,
        greatest=1e6,
        bounds="1e-4 s^-1 to 1e6 s^-1, from hours to the diffusion into a micrometre",
        units=(("s^-1", 1.0), ("min^-1", 1 / 60)),
        examples=("20 s^-1",),
    ),
    "data rate": Kind(
        name="a data rate",
        unit="Hz",
        lowest=1e-3,
        greatest=1e6,
        bounds="0.001 Hz to 1 MHz, from a point in a quarter of an hour to the fastest electronics",
        units=(("Hz", 1.0), ("kHz", 1e3)),
        examples=("5 Hz",),
    ),
    "amount": Kind(
        name="an amount of substance",
        unit="mol",
        lowest=1e-18,
        greatest=1.0,
        bounds="1 amol to 1 mol",
        units=(("nmol", 1e-9), ("pmol", 1e-12), ("umol", 1e-6), ("mmol", 1e-3)),
        examples=("2 nmol",),
    ),
    "absorptivity": Kind(
        name="a molar absorptivity",
        unit="m^2/mol",
        lowest=1e-3,
        greatest=1e5,
        bounds="0.01 L/mol/cm to 1000000 L/mol/cm, decadic",
        units=(("L/mol/cm", 0.1),),
        examples=("12000 L/mol/cm",),
    ),
    "absorbance": Kind(
        name="an absorbance",
        unit="AU",
        lowest=1e-9,
        greatest=1.0,
        bounds="0.001 uAU to 1 AU, from the quietest detector to one without use",
        units=(("mAU", 1e-3), ("uAU", 1e-6), ("AU", 1.0)),
        examples=("0.02 mAU",),
    ),
    "molar enthalpy": Kind(
        name="a molar enthalpy",
        unit="J/mol",
        lowest=-2e5,
        greatest=2e5,
        bounds="-200 kJ/mol to 200 kJ/mol, negative where warmth lessens retention",
        units=(("kJ/mol", 1e3), ("J/mol", 1.0)),
        examples=("-12 kJ/mol",),
    ),
    "change with temperature": Kind(
        name="a change with temperature",
        unit="K^-1",
        lowest=-0.2,
        greatest=0.2,
        bounds="-20 %/K to 20 %/K, negative where warmth lessens it",
        units=(("%/K", 0.01),),
        examples=("-1.5 %/K",),
    ),
    "volume variance": Kind(
        name="a variance in volume",
        unit="m^6",
        lowest=0.0,
        greatest=1e-8,
        bounds="none to (100 mL)^2",
        units=(("uL^2", 1e-18),),
        examples=("10 uL^2",),
    ),
}
"""Bounds are the project's own choice (common practice, no source)."""


def kind_named(name: str) -> Kind:
    """Return the row of the table.

    Raises QuantityError: no kind has this name; the message lists those that exist.
    """
    if name not in KINDS:
        raise QuantityError(
            f"no kind of quantity is called {str(name)[:40]!r}; there are {', '.join(KINDS)}"
        )
    return KINDS[name]


def plain(value: float, digits: int = 4) -> str:
    """Print a number without a unit: ``11240``, ``0.9513``; ``not known`` for NaN.

    Parameters
    ----------
    value : float, any unit
    digits : int, 1
        Significant digits.
    """
    return "not known" if math.isnan(value) else f"{float(f'{value:.{digits}g}'):.12g}"


def show(value: float, kind: str, digits: int = 4) -> str:
    """Print an SI value in the trade's unit.

    ``"0.12 mm"``: in the usual unit, or the first in which the number lies between 0.1 and 1000;
    ``"not known"`` for NaN; ``"straight"`` for a bend radius without limit. Raises QuantityError:
    no kind has this name.

    Parameters
    ----------
    value : float, in the kind's SI unit
    kind : str
        A name in ``KINDS``.
    digits : int, 1
        Significant digits; zeros at the end are left out.
    """
    row = kind_named(kind)
    value = float(value)
    if math.isnan(value):
        return "not known"
    if math.isinf(value):
        return "straight" if kind == "bend radius" else "without limit"
    if row.offset:
        return f"{round(value - row.offset, 6):.{digits + 2}g} {row.usual_unit}"
    numbers = [(f"{value / size:.{digits}g}", unit) for unit, size in row.units]
    # The rounded number decides: 999.9999999 uL is 1 mL.
    handy = [pair for pair in numbers if 0.1 <= abs(float(pair[0])) < 1000]
    number, unit = handy[0] if handy else numbers[0]
    return f"{number} {unit}"
