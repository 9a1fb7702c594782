"""The liquids that an eluent can be mixed from."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from tailrace.errors import PartError
from tailrace.quantities.arrays import Number

Composition: TypeAlias = Mapping[str, float]
"""Volume fractions of liquids by name, before mixing; they add up to one."""

LOWEST_TEMPERATURE = 278.15
HIGHEST_TEMPERATURE = 363.15
"""K; the range in which properties of an eluent are given."""

MIXING_TEMPERATURE = 298.15
"""K; at which volume fractions before mixing are taken: about that of the room."""


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
    boiling_volume : float, m^3/mol
        Molar volume at the boiling point, for Scheibel's estimate of diffusion.
    """

    molar_mass: float
    density: float
    association: float
    boiling_volume: float


LIQUIDS = {
    "water": Liquid(molar_mass=0.018015, density=997.05, association=2.6, boiling_volume=18.9e-6),
    "methanol": Liquid(molar_mass=0.032042, density=786.6, association=1.9, boiling_volume=42.0e-6),
    "acetonitrile": Liquid(
        molar_mass=0.041053, density=776.6, association=1.0, boiling_volume=56.0e-6
    ),
}
"""By name. Densities: water IAPWS-95; methanol the equation of de Reuck and Craven (IUPAC 1993);
acetonitrile DIPPR equation 105. Volumes at boiling: water Le Bas, the others Schroeder."""


def mole_fractions(composition: Composition) -> dict[str, float]:
    """Turn volume fractions before mixing into mole fractions.

    Raises PartError for a liquid that is not in LIQUIDS: give ``viscosity`` and ``diffusivity``
    instead.

    Parameters
    ----------
    composition : dict of str to float, 1
        Volume fractions by the names of LIQUIDS.
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


def organic_liquid(composition: Composition, wanted: str) -> tuple[str | None, float]:
    """Name and mole fraction of the one liquid that is mixed with water.

    Raises PartError: two liquids beside water, or a liquid that is not in LIQUIDS.

    Parameters
    ----------
    composition : dict of str to float, 1
        Volume fractions before mixing.
    wanted : str
        What is asked for, as the message of an error says it: ``"viscosity"``.

    Returns
    -------
    name : str or None
        None for water alone.
    mole_fraction : float, 1
    """
    organic = [name for name, share in composition.items() if name != "water" and share > 0]
    if not organic:
        return None, 0.0
    if len(organic) > 1 or organic[0] not in LIQUIDS:
        raise PartError(
            f"no {wanted} correlation for a mixture of {' and '.join(sorted(composition))}: "
            f"known are water and its mixtures with one other liquid, else give {wanted}"
        )
    return organic[0], mole_fractions(composition)[organic[0]]


def check_temperature(temperature: Number, wanted: str) -> None:
    """Refuse a temperature at which nothing is known.

    Raises PartError outside LOWEST_TEMPERATURE to HIGHEST_TEMPERATURE.

    Parameters
    ----------
    temperature : float or array, K
    wanted : str
        What is asked for, as the message says it.
    """
    outside = [
        one for one in np.ravel(temperature) if not LOWEST_TEMPERATURE <= one <= HIGHEST_TEMPERATURE
    ]
    if outside:
        raise PartError(
            f"no {wanted} at {outside[0] - 273.15:.1f} degC: the correlations hold from "
            f"{LOWEST_TEMPERATURE - 273.15:.0f} to {HIGHEST_TEMPERATURE - 273.15:.0f} degC, "
            f"outside that give {wanted}"
        )
