"""Viscosity of the eluent at low pressure."""

import math

import numpy as np
from scipy.interpolate import PchipInterpolator

from tailrace.errors import PartError

LOWEST_TEMPERATURE = 283.15
HIGHEST_TEMPERATURE = 363.15
"""K; the range in which viscosities are given."""

WATER_TERMS = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
"""uPa s; IAPWS SR6-08(2011), liquid water at 0.1 MPa, 253 to 383 K, within 1 %."""

AT_25_DEGC = {
    "acetonitrile": (0.89, 1.01, 0.98, 0.98, 0.89, 0.82, 0.72, 0.59, 0.52, 0.46, 0.35),
    "methanol": (0.89, 1.18, 1.40, 1.56, 1.62, 1.62, 1.54, 1.36, 1.12, 0.84, 0.56),
}
"""mPa s of mixtures with water at volume fractions 0, 0.1 ... 1 of the organic liquid.

Colin, Diez-Masa, Guiochon, Czajkowska and Miedziak, J. Chromatogr. 167 (1978) 41, from memory:
within about 5 %.
"""

WITH_TEMPERATURE = {
    "acetonitrile": (602.0, 62.0, -346.0),
    "methanol": (714.0, 912.0, -968.0),
}
"""K; a, b, c of log10(eta) = (a + b f + c f^2)/T + const at volume fraction f.

The form is that of Chen and Horvath, Anal. Methods Instrum. 1 (1993) 213; from memory. It carries
the values at 25 degC to other temperatures.
"""


def water_viscosity(temperature):
    """Liquid water at 0.1 MPa (IAPWS SR6-08). float K in, float Pa s out; 253 to 383 K."""
    reduced = temperature / 300.0
    return 1e-6 * sum(factor * reduced**power for factor, power in WATER_TERMS)


def viscosity(composition, temperature) -> float:
    """Viscosity of water or of its mixture with one organic liquid, at low pressure.

    Parameters
    ----------
    composition : dict of str to float, 1
        Volume fractions before mixing; they add up to one.
    temperature : float, K
        10 to 90 degC.

    Returns
    -------
    float, Pa s
        Water within 1 %, mixtures within about 5 % at 25 degC and 10 % elsewhere.

    Raises
    ------
    PartError
        Outside the temperatures, or for a mixture without a correlation: give ``viscosity``.
    """
    if not LOWEST_TEMPERATURE <= temperature <= HIGHEST_TEMPERATURE:
        raise PartError(
            f"no viscosity at {temperature - 273.15:.1f} degC: the correlations hold from "
            "10 to 90 degC, outside that give viscosity"
        )
    organic = {name: share for name, share in composition.items() if name != "water" and share > 0}
    if not organic:
        return water_viscosity(temperature)
    name, share = next(iter(organic.items()))
    if len(organic) > 1 or name not in AT_25_DEGC:
        raise PartError(
            f"no viscosity correlation for a mixture of {' and '.join(sorted(composition))}: "
            "give viscosity"
        )
    fractions = np.linspace(0.0, 1.0, len(AT_25_DEGC[name]))
    at_25 = float(PchipInterpolator(fractions, np.log(AT_25_DEGC[name]))(share))
    a, b, c = WITH_TEMPERATURE[name]
    slope = a + b * share + c * share**2
    return 1e-3 * math.exp(at_25) * 10 ** (slope * (1 / temperature - 1 / 298.15))
