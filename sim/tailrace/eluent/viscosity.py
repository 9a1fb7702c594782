"""Viscosity of the eluent at low pressure."""

import math

from tailrace.errors import PartError

LOWEST_TEMPERATURE = 283.15
HIGHEST_TEMPERATURE = 363.15
"""K; the range in which viscosities are given."""

WATER_TERMS = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
"""uPa s; IAPWS SR6-08(2011), liquid water at 0.1 MPa, 253 to 383 K, within 1 %."""

BINARY_WITH_WATER = {
    "acetonitrile": (-2.063, 602.0, 0.071, 62.0, 0.504, -346.0),
    "methanol": (-2.429, 714.0, -1.857, 912.0, 1.858, -968.0),
}
"""log10(eta / mPa s) = a + b/T + c f + d f/T + e f^2 + g f^2/T with f the organic volume fraction.

The form and coefficients are those of Chen and Horvath, Anal. Methods Instrum. 1 (1993) 213, from
memory; against the values in the tests they hold within 10 % (pure methanol) and 5 % (the rest).
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
        Water within 1 %, mixtures within about 10 %.

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
    if len(organic) > 1 or name not in BINARY_WITH_WATER:
        raise PartError(
            f"no viscosity correlation for a mixture of {' and '.join(sorted(composition))}: "
            "give viscosity"
        )
    a, b, c, d, e, g = BINARY_WITH_WATER[name]
    exponent = a + c * share + e * share**2 + (b + d * share + g * share**2) / temperature
    return 1e-3 * math.pow(10.0, exponent)
