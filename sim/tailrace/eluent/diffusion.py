"""Diffusion of a small solute in the eluent."""

from tailrace.eluent.liquids import LIQUIDS, mole_fractions

TYPICAL_ERROR = 0.20
"""Relative; how far an estimate commonly is off (common practice, no source)."""


def wilke_chang(molar_volume, composition, temperature, viscosity) -> float:
    """Diffusion coefficient from the solute's molar volume at its boiling point.

    D = 7.4e-8 sqrt(phi M) T / (eta V^0.6), with D in cm^2/s, M in g/mol, eta in cP, V in
    cm^3/mol (Wilke and Chang, AIChE J. 1 (1955) 264); phi M of a mixture is the mean over mole
    fractions (Perkins and Geankoplis, Chem. Eng. Sci. 24 (1969) 1035).

    Parameters
    ----------
    molar_volume : float, m^3/mol
    composition : dict of str to float, 1
        Volume fractions before mixing.
    temperature : float, K
    viscosity : float, Pa s
        Of the eluent at that temperature.

    Returns
    -------
    float, m^2/s
        Commonly within 20 %.

    Raises
    ------
    PartError
        For a liquid without an association factor.
    """
    associated_mass = sum(
        share * LIQUIDS[name].association * LIQUIDS[name].molar_mass * 1e3
        for name, share in mole_fractions(composition).items()
    )
    cubic_centimetres = molar_volume * 1e6
    return 7.4e-12 * associated_mass**0.5 * temperature / (viscosity * 1e3 * cubic_centimetres**0.6)


def rescaled(diffusivity, temperature_from, temperature_to, viscosity_from, viscosity_to):
    """Carry a diffusion coefficient to another temperature: D eta / T is constant.

    Stokes and Einstein's relation. Scalars or (lanes,) arrays in SI units; returns m^2/s.
    """
    return diffusivity * (temperature_to / temperature_from) * (viscosity_from / viscosity_to)
