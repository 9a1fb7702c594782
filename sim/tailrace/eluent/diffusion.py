"""Diffusivities of solutes, and the molar volumes that they are estimated from."""

import re

from tailrace.eluent.liquids import LIQUIDS, Composition, mole_fractions
from tailrace.errors import PartError
from tailrace.quantities.arrays import Number

ATOMS = {
    "C": 7.0,
    "H": 7.0,
    "N": 7.0,
    "O": 7.0,
    "S": 21.0,
    "F": 10.5,
    "Cl": 24.5,
    "Br": 31.5,
    "I": 38.5,
}
DOUBLE_BOND = 7.0
RING = -7.0
"""cm^3/mol; Schroeder's contributions (Partington, An Advanced Treatise on Physical Chemistry 1
(1949); also in Johnson, Ocean Sci. 6 (2010) 913). A triple bond counts as two double ones. Mean
error over many liquids: 3 to 4 % (Poling, Prausnitz and O'Connell, The Properties of Gases and
Liquids, 5th ed., chapter 4; from memory)."""

UNSATURATION = {"C": 2, "N": 1, "H": -1, "F": -1, "Cl": -1, "Br": -1, "I": -1}
"""What an atom adds to twice the number of rings and double bonds; S and O, two-valued, nothing."""

PART = re.compile(r"([A-Z][a-z]?)([1-9][0-9]{0,3})?")


def atoms_of(formula: str) -> dict[str, int]:
    """Count the atoms of a formula such as ``C20H28O5``.

    ``formula``: element symbols with numbers; no brackets, charges or isotopes. Raises PartError:
    not a formula, or an element without a contribution.

    Returns
    -------
    dict of str to int
        By element symbol.
    """
    parts = PART.findall(formula)
    if not parts or "".join(symbol + number for symbol, number in parts) != formula:
        raise PartError(
            f'expected a formula such as "C20H28O5", found "{formula[:60]}"; write element symbols '
            "with numbers and nothing else"
        )
    counts: dict[str, int] = {}
    for symbol, number in parts:
        if symbol not in ATOMS:
            raise PartError(
                f"expected only {', '.join(ATOMS)} in the formula, found {symbol}; "
                "give molar_volume or diffusivity instead"
            )
        counts[symbol] = counts.get(symbol, 0) + int(number or 1)
    return counts


def schroeder(formula: str, rings: int = 0) -> float:
    """Molar volume at the boiling point from atoms, double bonds and rings.

    What the formula has in rings and double bonds together follows from its valences; what is not
    in rings is counted as double bonds, so that one ring more lowers the volume by 14 cm^3/mol.
    Raises PartError: not a formula, not of a closed-shell molecule, or with fewer valences than
    rings.

    Parameters
    ----------
    rings : int, 1
        Number of rings; naphthalene has two.

    Returns
    -------
    float, m^3/mol
        Typically within 4 %, single liquids to 10 %; small strained rings less well (ethylene
        oxide is found 16 % too small). Sulfur is taken as two-valued.
    """
    counts = atoms_of(formula)
    twice = 2 + sum(UNSATURATION.get(symbol, 0) * n for symbol, n in counts.items())
    if twice < 0 or twice % 2:
        raise PartError(
            f'expected the formula of a neutral molecule, found "{formula}", whose valences do not '
            "pair; check the number of hydrogen atoms"
        )
    unsaturation = twice // 2
    if rings > unsaturation:
        raise PartError(
            f'expected at most {unsaturation} rings in "{formula}", found {rings}; '
            "check the formula and the rings"
        )
    volume = sum(ATOMS[symbol] * number for symbol, number in counts.items())
    return 1e-6 * (volume + DOUBLE_BOND * (unsaturation - rings) + RING * rings)


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
