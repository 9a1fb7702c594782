"""Density of the eluent: water, methanol, acetonitrile and their mixtures with water."""

import numpy as np

from tailrace.eluent.liquids import LIQUIDS, Composition, check_temperature, organic_liquid
from tailrace.quantities.arrays import Number

WATER_TERMS = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
WATER_DENOMINATOR = 16.879850e-3
"""Kell, J. Chem. Eng. Data 20 (1975) 97, in degC, 0 to 150 degC at 0.1 MPa."""

METHANOL_TERMS = (786.327, -0.938144, -2.66538e-4, -8.0935e-6)
"""kg/m^3 in powers of (T - 25 degC); fitted within 0.02 kg/m^3, 5 to 90 degC, to the equation of
de Reuck and Craven (Methanol, IUPAC 1993) as evaluated by an open library."""

ACETONITRILE_TERMS = (1306.4, 0.22597, 545.5, 0.28678)
"""mol/m^3 and K; DIPPR equation 105, Perry's Chemical Engineers' Handbook, 8th ed., Table 2-32."""

EXCESS_VOLUME = {
    "methanol": (-3.998, 0.066, 0.513),
    "acetonitrile": (-1.795, -2.055, -1.229),
}
"""cm^3/mol; A_j of x (1 - x) sum_j A_j (1 - 2x)^j at 25 degC, x the organic liquid's mole fraction.

Methanol: fitted within 0.03 to the densities of Gonzalez, Calvar, Gomez and Dominguez, J. Chem.
Thermodyn. 39 (2007) 1578. Acetonitrile: within 0.03 to excess volumes in Fluid Phase Equilib.
(2011), doi 10.1016/j.fluid.2011.09.016, and one density in J. Chem. Eng. Data (2006), doi
10.1021/je0601098. Both through the ThermoML archive.
"""

SOURCES = {
    None: "Kell 1975",
    "methanol": "Kell 1975; de Reuck and Craven 1993; excess volume of Gonzalez and others 2007",
    "acetonitrile": "Kell 1975; DIPPR equation 105; excess volume at 25 degC through ThermoML",
}


def density(composition: Composition, temperature: Number) -> Number:
    """Density of water or of its mixture with one organic liquid, at low pressure.

    Molar volumes of the pure liquids at the temperature, and the excess volume at 25 degC. Raises
    PartError outside the temperatures, or for a mixture without a correlation.

    Parameters
    ----------
    composition : dict of str to float, 1
        Volume fractions before mixing; they add up to one.
    temperature : float or array, K
        5 to 90 degC.

    Returns
    -------
    float or array, kg/m^3
        Within ``density_uncertainty``.
    """
    check_temperature(temperature, "density")
    name, share = organic_liquid(composition, "density")
    if name is None:
        return water_density(temperature)
    mass = share * LIQUIDS[name].molar_mass + (1 - share) * LIQUIDS["water"].molar_mass
    volume = share * LIQUIDS[name].molar_mass / PURE[name](temperature)
    volume += (1 - share) * LIQUIDS["water"].molar_mass / water_density(temperature)
    terms = (factor * (1 - 2 * share) ** power for power, factor in enumerate(EXCESS_VOLUME[name]))
    return mass / (volume + 1e-6 * share * (1 - share) * sum(terms))


def density_uncertainty(composition: Composition) -> float:
    """How far off ``density`` may be, as a fraction of it.

    Parameters
    ----------
    composition : dict of str to float, 1

    Returns
    -------
    float, 1
        Water 0.01 %, methanol 0.2 %, acetonitrile 0.3 %. Mixtures 1 %: the change of the excess
        volume with temperature is left out.
    """
    name, share = organic_liquid(composition, "density")
    if name is None:
        return 1e-4
    if share == 1:
        return {"methanol": 2e-3, "acetonitrile": 3e-3}[name]
    return 1e-2


def density_source(composition: Composition) -> str:
    """Where ``density`` is from, in a few words.

    Parameters
    ----------
    composition : dict of str to float, 1
    """
    return SOURCES[organic_liquid(composition, "density")[0]]


def water_density(temperature: Number) -> Number:
    """Liquid water at 0.1 MPa (Kell 1975).

    Parameters
    ----------
    temperature : float or array, K
        273 to 423 K.

    Returns
    -------
    float or array, kg/m^3
    """
    celsius = temperature - 273.15
    above = sum(factor * celsius**power for power, factor in enumerate(WATER_TERMS))
    return above / (1 + WATER_DENOMINATOR * celsius)


def _methanol(temperature: Number) -> Number:
    warmer = temperature - 298.15
    return sum(factor * warmer**power for power, factor in enumerate(METHANOL_TERMS))


def _acetonitrile(temperature: Number) -> Number:
    first, second, critical, power = ACETONITRILE_TERMS
    exponent = 1 + np.power(1 - temperature / critical, power)
    return LIQUIDS["acetonitrile"].molar_mass * first / second**exponent


PURE = {"methanol": _methanol, "acetonitrile": _acetonitrile}
"""Density of a pure organic liquid, by name: K in, kg/m^3 out."""
