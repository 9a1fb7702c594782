"""The liquids that an eluent can be mixed from."""

from dataclasses import dataclass

from tailrace.errors import PartError


@dataclass(frozen=True, kw_only=True)
class Liquid:
    """Constants of one pure liquid.

    Parameters
    ----------
    molar_mass : float, kg/mol
    density : float, kg/m^3
        At 25 degC; turns volume fractions into mole fractions.
    association : float, 1
        Wilke and Chang's association factor (AIChE J. 1 (1955) 264).
    """

    molar_mass: float
    density: float
    association: float


LIQUIDS = {
    "water": Liquid(molar_mass=0.018015, density=997.05, association=2.6),
    "methanol": Liquid(molar_mass=0.032042, density=786.33, association=1.9),
    "acetonitrile": Liquid(molar_mass=0.041053, density=776.0, association=1.0),
}
"""By name. Densities: water IAPWS-95, methanol and acetonitrile handbook values from memory."""


def mole_fractions(composition) -> dict[str, float]:
    """Turn volume fractions before mixing into mole fractions.

    Parameters
    ----------
    composition : dict of str to float, 1
        Volume fractions by the names of LIQUIDS.

    Raises
    ------
    PartError
        For a liquid that is not in LIQUIDS: give ``viscosity`` and ``diffusivity`` instead.
    """
    unknown = sorted(set(composition) - set(LIQUIDS))
    if unknown:
        raise PartError(
            f"the eluent contains {', '.join(unknown)}, known liquids are {', '.join(LIQUIDS)}: "
            "give viscosity and diffusivity yourself"
        )
    moles = {
        name: share * LIQUIDS[name].density / LIQUIDS[name].molar_mass
        for name, share in composition.items()
    }
    total = sum(moles.values())
    return {name: amount / total for name, amount in moles.items()}
