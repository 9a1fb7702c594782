"""Molar volume of a solute at its boiling point, from its formula."""

import re

from tailrace.errors import PartError

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
(1949); also in Johnson, Ocean Sci. 6 (2010) 913). A triple bond counts as two double ones."""

TYPICAL_ERROR = 0.04
"""Relative; mean error over many liquids is 3 to 4 % (Poling, Prausnitz and O'Connell, The
Properties of Gases and Liquids, 5th ed., chapter 4; from memory)."""

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
