"""Diffusion of a small solute in the eluent."""

from tailrace.eluent.liquids import LIQUIDS, Composition, mole_fractions
from tailrace.quantities.arrays import Number

TYPICAL_ERROR = 0.20
TYPICAL_ERROR_WORDS = "10 to 20 %"
"""Relative; how far an estimate commonly is off (common practice, no source)."""

LEAST_RATIO_IN_WATER = 1.0
LEAST_RATIO_ELSEWHERE = 2.5
"""Ratio of the solute's to the liquid's molar volume below which Scheibel's factor stays as it is:
25.2 for small solutes in water, 17.5 in other liquids."""


def associated_mass(composition: Composition) -> float:
    """Molar mass times association factor, the mean over mole fractions.

    Perkins and Geankoplis, Chem. Eng. Sci. 24 (1969) 1035. Raises PartError for a liquid without an
    association factor.

    Parameters
    ----------
    composition : dict of str to float, 1
        Volume fractions before mixing.

    Returns
    -------
    float, kg/mol
    """
    return sum(
        share * LIQUIDS[name].association * LIQUIDS[name].molar_mass
        for name, share in mole_fractions(composition).items()
    )


def wilke_chang(
    molar_volume: Number, composition: Composition, temperature: Number, viscosity: Number
) -> Number:
    """Diffusion coefficient from the solute's molar volume at its boiling point.

    D = 7.4e-8 sqrt(phi M) T / (eta V^0.6), with D in cm^2/s, M in g/mol, eta in cP, V in cm^3/mol
    (Wilke and Chang, AIChE J. 1 (1955) 264); phi M after ``associated_mass``. Raises PartError for
    a liquid without an association factor.

    Parameters
    ----------
    molar_volume : float or (lanes,) array, m^3/mol
    composition : dict of str to float, 1
        Volume fractions before mixing.
    temperature : float, K
    viscosity : float, Pa s
        Of the eluent at that temperature.

    Returns
    -------
    float or (lanes,) array, m^2/s
        Commonly within 20 %.
    """
    mass = 1e3 * associated_mass(composition)
    cubic_centimetres = molar_volume * 1e6
    found: Number = 7.4e-12 * mass**0.5 * temperature / (viscosity * 1e3 * cubic_centimetres**0.6)
    return found


def scheibel(
    molar_volume: Number, composition: Composition, temperature: Number, viscosity: Number
) -> Number:
    """Diffusion coefficient by another method, to set beside Wilke and Chang's.

    D = 8.2e-8 (1 + (3 V_B / V)^(2/3)) T / (eta V^(1/3)) in the units of ``wilke_chang`` (Scheibel,
    Ind. Eng. Chem. 46 (1954) 2007), V_B the liquid's molar volume at its boiling point. For a
    mixture V_B is the mean over mole fractions (common practice, no source). Raises PartError for a
    liquid that is not known.

    Parameters
    ----------
    molar_volume : float, m^3/mol
    composition : dict of str to float, 1
        Volume fractions before mixing.
    temperature : float, K
    viscosity : float, Pa s

    Returns
    -------
    float, m^2/s
        Commonly within 20 %.
    """
    shares = mole_fractions(composition)
    liquid = sum(share * LIQUIDS[name].boiling_volume for name, share in shares.items())
    water = shares.get("water", 0.0)
    least = LEAST_RATIO_IN_WATER * water + LEAST_RATIO_ELSEWHERE * (1 - water)
    factor = 8.2 * (1 + (3 / max(molar_volume / liquid, least)) ** (2 / 3))
    return 1e-12 * factor * temperature / (viscosity * 1e3 * (molar_volume * 1e6) ** (1 / 3))


def rescaled(
    diffusivity: Number,
    temperature_from: Number,
    temperature_to: Number,
    viscosity_from: Number,
    viscosity_to: Number,
) -> Number:
    """Carry a diffusion coefficient to another temperature: D eta / T is constant.

    Stokes and Einstein's relation. Scalars or (lanes,) arrays in SI units; returns m^2/s.
    """
    return diffusivity * (temperature_to / temperature_from) * (viscosity_from / viscosity_to)
