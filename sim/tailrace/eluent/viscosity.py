"""Viscosity of the eluent: water, methanol, acetonitrile and their mixtures with water.

Mixtures: ln eta = x ln eta_1(T) + (1 - x) ln eta_water(T) + G(x) (1 + s(x) (1/T - 1/T_25)), with x
the mole fraction of the organic liquid. G interpolates published viscosities at 25 degC, s carries
it to other temperatures.
"""

from collections.abc import Callable
from functools import cache

import numpy as np

from tailrace.eluent.liquids import (
    MIXING_TEMPERATURE,
    Composition,
    check_temperature,
    organic_liquid,
)
from tailrace.errors import PartError
from tailrace.quantities.arrays import FloatArray, Number

WATER_TERMS = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
"""uPa s; IAPWS SR6-08(2011), liquid water at 0.1 MPa, 253 to 383 K, within 1 %."""

PURE_TERMS = {
    "acetonitrile": (-10.906 + np.log(1e3), 872.02, 0.0),
    "methanol": (0.893633, 1029.237, -0.869617),
}
"""a, b, c of ln(eta / mPa s) = a + b/T + c ln(T/K).

Acetonitrile: DIPPR equation 101 in Perry's Chemical Engineers' Handbook, 8th ed., Table 2-313.
Methanol: fitted within 0.12 %, 5 to 90 degC, to the reference correlation of Xiang, Laesecke and
Huber, J. Phys. Chem. Ref. Data 35 (2006) 1597, as evaluated by an open library.
"""

AT_25_DEGC = {
    "acetonitrile": (
        (0.0, 0.8901),
        (0.0510, 0.9849),
        (0.1169, 0.9567),
        (0.1971, 0.8743),
        (0.4417, 0.6061),
        (0.5204, 0.5387),
        (0.6012, 0.4802),
        (0.6671, 0.4415),
        (0.7398, 0.4064),
        (0.8253, 0.3722),
        (0.8860, 0.3561),
        (0.9389, 0.3478),
        (1.0, 0.3417),
    ),
    "methanol": (
        (0.0, 0.890),
        (0.0488, 1.121),
        (0.1001, 1.317),
        (0.2014, 1.542),
        (0.3003, 1.554),
        (0.4006, 1.463),
        (0.4997, 1.309),
        (0.6015, 1.150),
        (0.7017, 0.987),
        (0.8027, 0.821),
        (0.9007, 0.677),
        (0.9510, 0.607),
        (1.0, 0.545),
    ),
}
"""Mole fraction of the organic liquid and mPa s, of mixtures with water at 25 degC, 0.1 MPa.

Acetonitrile: Grande, Julia, Barrero, Marschoff and Bianchi, J. Chem. Thermodyn. 38 (2006) 760, 13
of 16 points. Methanol: Gonzalez, Calvar, Gomez and Dominguez, ibid. 39 (2007) 1578. Both as the
ThermoML archive holds them, with expanded uncertainties of about 1.3 %.
"""

EXCESS_SLOPE = {"acetonitrile": (500.0, 0.0), "methanol": (1270.0, -1000.0)}
"""K; s(x) = first + second x.

Methanol: from the points of Melinder (Properties of Secondary Working Fluids, IIR 2010) at mass
fractions 0.1 to 0.6, 5 to 40 degC. Acetonitrile: the form of Chen and Horvath (Anal. Methods
Instrum. 1 (1993) 213, from memory) amounts to about 250 K, methanol to 1000 K, and the middle is
taken; a handbook table, 20 to 60 degC (``UNCERTAINTY``), bears it out within 5 % up to half
acetonitrile.
"""

UNCERTAINTY = {
    "acetonitrile": (
        (25.0, 60.0, 90.0),
        (0.0, 0.05, 0.55, 0.65, 0.8, 0.9, 1.0),
        (
            (0.03, 0.075, 0.055, 0.1, 0.1, 0.175, 0.03),
            (0.03, 0.08, 0.06, 0.105, 0.105, 0.105, 0.03),
            (0.03, 0.11, 0.09, 0.135, 0.135, 0.135, 0.03),
        ),
    ),
    "methanol": (
        (40.0, 50.0, 60.0, 90.0),
        (0.0, 0.1, 0.2, 0.6, 0.7, 0.8, 0.95, 1.0),
        (
            (0.03, 0.065, 0.07, 0.07, 0.06, 0.035, 0.03, 0.03),
            (0.03, 0.12, 0.165, 0.14, 0.085, 0.04, 0.03, 0.03),
            (0.03, 0.2, 0.255, 0.21, 0.145, 0.07, 0.03, 0.03),
            (0.03, 0.26, 0.325, 0.28, 0.21, 0.13, 0.05, 0.03),
        ),
    ),
}
"""Temperatures (degC), volume fractions and, by these, the uncertainty as a fraction; straight
lines between them, and at other temperatures the nearest.

Each covers 95 % of the published points of mixtures that could be found, in each range of
temperature and in each of composition, all of which tests/agreement/test_liquids.py has. Measured
at their source: methanol at 20 to 30 degC, which the correlation meets within 4 %. Second-hand:
the handbook table of Snyder, Kirkland and Dolan (Introduction to Modern Liquid Chromatography, 3rd
ed. 2010, App. I), 20 to 60 degC, two decimals. Methanol lies under it by 4 to 6 % at 20 to 40 degC
and by up to 18 % at 60 degC, where the table is doubtful in itself (its pure acetonitrile is 15 %
under other sources) and runs against the measured trend from 5 to 40 degC that the correlation
carries on: with no measurement at its source above 40 degC at hand, the correlation is kept and
its uncertainty covers the table. Acetonitrile lies within 7 % of it to half acetonitrile, within
10 % above, but at 0.9 and 20 to 30 degC, where the table is 14 to 17 % higher and measurements at
their source are not, and at one scattered point (0.8 at 60 degC). Above 60 degC: judgement.
"""

SOURCES = {
    None: "IAPWS SR6-08(2011)",
    "acetonitrile": (
        "Grande and others 2006 at 25 degC; acetonitrile by DIPPR equation 101; temperature of "
        "mixtures estimated, checked against a handbook table to 60 degC"
    ),
    "methanol": (
        "Gonzalez and others 2007 at 25 degC; methanol after Xiang and others 2006; temperature of "
        "mixtures after Melinder 2010"
    ),
}

PRESSURE_TERMS = {
    "water": (
        (-0.01525, 0.28136, -0.40920, 0.52488, -0.30115),
        (0.01798, -0.07185, 0.12466, -0.16285, 0.09233),
    ),
    "methanol": (
        (0.60713, 0.08978, 0.18430),
        (-0.26507, -0.20706, -0.13311),
        (0.08746, 0.08479, 0.05562),
    ),
    "acetonitrile": (
        (0.90866, 0.20212, 0.14199),
        (-0.64996, -0.21330, -0.13825),
        (0.23346, 0.09145, 0.05936),
    ),
}
"""ln(eta/eta_0) = sum_ij c_ij p^i t^j with p in 100 MPa over 0.1 MPa, t = (T - 25 degC)/100 K.

All fitted over 5 to 90 degC, to 100 MPa. Water: within 0.06 % to IAPWS R12-08 with IAPWS-95
densities. Methanol: within 0.2 % to the reference correlation of Xiang, Laesecke and Huber (2006).
Acetonitrile: within 0.4 % to the general estimate of Lucas (1981; in Poling, Prausnitz and
O'Connell, The Properties of Gases and Liquids, 5th ed., 9-9.1), for want of a measurement at its
source: about a tenth off for most liquids.
"""

PRESSURE_UNCERTAINTY = 1 / 3
"""Relative, of that logarithm: a judgement, for acetonitrile and mixtures. Water and methanol alone
are known within a few hundredths."""

PRESSURE_SOURCES = {
    "water": "IAPWS R12-08",
    "methanol": "Xiang and others 2006",
    "acetonitrile": "the estimate of Lucas 1981",
}

ATMOSPHERE = 101325.0
HIGHEST_PRESSURE = 100e6
"""Pa"""


def viscosity(composition: Composition, temperature: Number) -> Number:
    """Viscosity of water or of its mixture with one organic liquid, at low pressure.

    Raises PartError outside the temperatures, or for a mixture without a correlation: give
    ``viscosity``.

    Parameters
    ----------
    composition : dict of str to float, 1
        Volume fractions before mixing; they add up to one.
    temperature : float or array, K
        5 to 90 degC.

    Returns
    -------
    float or array, Pa s
        Within ``viscosity_uncertainty``.
    """
    check_temperature(temperature, "viscosity")
    name, share = organic_liquid(composition, "viscosity")
    if name is None:
        return water_viscosity(temperature)
    excess = _excess_at_25_degc(name)(share)
    first, second = EXCESS_SLOPE[name]
    carried = 1 + (first + second * share) * (1 / temperature - 1 / MIXING_TEMPERATURE)
    ideal = share * _log_pure(name, temperature) + (1 - share) * np.log(
        1e3 * water_viscosity(temperature)
    )
    found = 1e-3 * np.exp(ideal + excess * carried)
    return float(found) if np.ndim(found) == 0 else found


@cache
def _excess_at_25_degc(name: str) -> Callable[[Number], Number]:
    """Excess of ln(viscosity) of mixtures with a liquid; studies ask for it many times."""
    rows = np.array(AT_25_DEGC[name])
    ideal = rows[:, 0] * np.log(rows[-1, 1]) + (1 - rows[:, 0]) * np.log(rows[0, 1])
    return monotone(rows[:, 0], np.log(rows[:, 1]) - ideal)


def monotone(x: FloatArray, y: FloatArray) -> Callable[[Number], Number]:
    """Cubics through three points and more that rise and fall only where these do.

    Slopes of Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300 (from memory). A test
    holds them against those of scipy, which would take a fifth of a second to load.
    """
    h, d = np.diff(x), np.diff(y) / np.diff(x)
    slopes, turns = np.zeros_like(y), d[:-1] * d[1:] <= 0
    one, two = 2 * h[1:] + h[:-1], h[1:] + 2 * h[:-1]
    with np.errstate(divide="ignore"):
        slopes[1:-1] = np.where(turns, 0.0, (one + two) / (one / d[:-1] + two / d[1:]))
    for end, first, next_ in ((0, 0, 1), (-1, -1, -2)):
        found = ((2 * h[first] + h[next_]) * d[first] - h[first] * d[next_]) / (h[first] + h[next_])
        far = d[first] * d[next_] < 0 and abs(found) > 3 * abs(d[first])
        slopes[end] = 0.0 if found * d[first] <= 0 else 3 * d[first] if far else found
    bend = (slopes[:-1] + slopes[1:] - 2 * d) / h

    def read(at: Number) -> Number:
        place = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(h) - 1)
        u = at - x[place]
        second = (d - slopes[:-1]) / h - bend
        found: Number = y[place] + u * (slopes[place] + u * (second[place] + u * (bend / h)[place]))
        return found

    return read


def water_viscosity(temperature: Number) -> Number:
    """Liquid water at 0.1 MPa (IAPWS SR6-08).

    Parameters
    ----------
    temperature : float or array, K
        253 to 383 K.

    Returns
    -------
    float or array, Pa s
    """
    reduced = temperature / 300.0
    return 1e-6 * sum(factor * reduced**power for factor, power in WATER_TERMS)


def viscosity_uncertainty(composition: Composition, temperature: Number) -> Number:
    """How far off ``viscosity`` may be, as a fraction of it.

    Parameters
    ----------
    composition : dict of str to float, 1
    temperature : float or array, K

    Returns
    -------
    float or array, 1
        Water 1 % as IAPWS states it. Methanol and acetonitrile 3 %: two published correlations
        of either differ by up to that. Mixtures: ``UNCERTAINTY``.
    """
    name, share = organic_liquid(composition, "viscosity")
    if name is None:
        return 0.01 * np.ones_like(temperature, dtype=float)[()]
    if share == 1:
        return 0.03 * np.ones_like(temperature, dtype=float)[()]
    levels, shares, rows = UNCERTAINTY[name]
    at_share = [np.interp(composition[name], shares, row) for row in rows]
    found: Number = np.interp(np.asarray(temperature) - 273.15, levels, at_share)
    return found


def viscosity_source(composition: Composition) -> str:
    """Where ``viscosity`` is from, in a few words.

    Parameters
    ----------
    composition : dict of str to float, 1
    """
    return SOURCES[organic_liquid(composition, "viscosity")[0]]


def pressure_factor(composition: Composition, temperature: Number, pressure: Number) -> Number:
    """Ratio of the viscosity under pressure to that at 0.1 MPa.

    Its logarithm in a mixture is the mean of the liquids' by volume: an assumption. Raises
    PartError for a pressure that the correlations do not hold.

    Parameters
    ----------
    composition : dict of str to float, 1
        Volume fractions before mixing.
    temperature : float or array, K
    pressure : float or array, Pa
        Absolute; up to 100 MPa.

    Returns
    -------
    float or array, 1
        Its logarithm is good within PRESSURE_UNCERTAINTY of itself.
    """
    check_temperature(temperature, "viscosity")
    organic_liquid(composition, "viscosity")
    if np.any(np.asarray(pressure) > HIGHEST_PRESSURE) or np.any(np.asarray(pressure) < 0):
        raise PartError(
            f"no viscosity at {np.max(pressure) / 1e5:.4g} bar: the correlation holds to "
            f"{HIGHEST_PRESSURE / 1e5:.0f} bar, write a pressure up to that"
        )
    above = (pressure - ATMOSPHERE) / 1e8
    warmer = (temperature - MIXING_TEMPERATURE) / 100.0
    logarithm = sum(
        share * factor * above ** (power + 1) * warmer**degree
        for name, share in composition.items()
        for power, row in enumerate(PRESSURE_TERMS[name])
        for degree, factor in enumerate(row)
    )
    return np.exp(logarithm)


def pressure_source(composition: Composition) -> str:
    """Where ``pressure_factor`` is from, in a few words.

    Parameters
    ----------
    composition : dict of str to float, 1
    """
    return ", ".join(PRESSURE_SOURCES[name] for name, share in composition.items() if share > 0)


def _log_pure(name: str, temperature: Number) -> Number:
    """Natural logarithm of the viscosity in mPa s of an organic liquid."""
    constant, inverse, logarithmic = PURE_TERMS[name]
    found: Number = constant + inverse / temperature + logarithmic * np.log(temperature)
    return found
