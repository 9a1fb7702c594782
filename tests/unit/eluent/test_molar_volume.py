"""Formulas: what is read from them, and what is refused."""

import pytest

from tailrace.eluent.diffusion import atoms_of, schroeder
from tailrace.errors import PartError


def test_atoms():
    assert atoms_of("C20H28O5") == {"C": 20, "H": 28, "O": 5}
    assert atoms_of("CH3COOH") == {"C": 2, "H": 4, "O": 2}
    assert atoms_of("CHCl3") == {"C": 1, "H": 1, "Cl": 3}


@pytest.mark.parametrize(
    ("formula", "rings", "expected"),
    [
        ("H2O", 0, 21.0),  # three atoms of 7
        ("C2H3N", 0, 56.0),  # six atoms, and a triple bond for two double ones
        ("C10H8", 2, 147.0),  # eighteen atoms, five double bonds, two rings
        ("C6H5Cl", 1, 115.5),  # eleven atoms, chlorine 24.5, three double bonds, a ring
        ("C4H4S", 1, 84.0),  # eight atoms, sulfur 21, two double bonds, a ring
    ],
)
def test_contributions_add_up(formula, rings, expected):
    assert schroeder(formula, rings) == pytest.approx(expected * 1e-6, rel=1e-12)


@pytest.mark.parametrize(
    ("formula", "rings", "text"),
    [
        ("", 0, r'expected a formula such as "C20H28O5", found ""'),
        ("c6h6", 0, "expected a formula such as"),
        ("C6H6+", 0, "expected a formula such as"),
        ("C06", 0, "expected a formula such as"),
        ("Fe2O3", 0, "found Fe; give molar_volume or diffusivity"),
        ("C6H7", 0, "whose valences do not pair; check the number of hydrogen"),
        ("CH8", 0, "whose valences do not pair"),
        ("C2H6", 1, 'expected at most 0 rings in "C2H6", found 1'),
    ],
)
def test_refused(formula, rings, text):
    with pytest.raises(PartError, match=text):
        schroeder(formula, rings)
