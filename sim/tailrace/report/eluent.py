"""Properties of an eluent, as numbers with their uncertainty and source, and as text."""

import math
from dataclasses import dataclass
from typing import Any

from tailrace.eluent.density import density, density_source, density_uncertainty
from tailrace.eluent.diffusion import associated_mass
from tailrace.eluent.liquids import mole_fractions
from tailrace.eluent.viscosity import (
    PRESSURE_UNCERTAINTY,
    pressure_factor,
    pressure_source,
    viscosity,
    viscosity_source,
    viscosity_uncertainty,
)
from tailrace.quantities.kinds import show

ASSOCIATION_UNCERTAINTY = 0.15
"""Relative; water's factor is 2.6 or, after Hayduk and Laudie, AIChE J. 20 (1974) 611, 2.26."""
MASS = "mass for diffusion"
KEYS = {MASS: "association_weighted_molar_mass"}
"""Names of properties in JSON, where they are others."""
COVERAGE = (
    "Within: for viscosities of mixtures 95 % of the published values that were found lie so near."
)
ASSOCIATION_SOURCE = (
    "what Wilke and Chang's estimate of diffusivities needs: molar mass times their factor for "
    "liquids whose molecules hold together (1955), mean over mole fractions (Perkins and "
    "Geankoplis 1969)"
)


@dataclass(frozen=True, kw_only=True)
class Property:
    """One number and how good it is.

    Parameters
    ----------
    value : float, SI
    unit : str
        SI unit of the value.
    shown : str
        The value in the trade's unit.
    uncertainty : float, 1
        Relative.
    """

    name: str
    value: float
    unit: str
    shown: str
    uncertainty: float
    source: str


def eluent_properties(
    composition: dict[str, float], temperature: float, pressure: float | None = None
) -> list[Property]:
    """Viscosity, density and the mass that Wilke and Chang's estimate needs.

    Raises PartError outside the ranges of the correlations.

    Parameters
    ----------
    composition : dict of str to float, 1
        Volume fractions before mixing.
    temperature : float, K
    pressure : float, Pa
        None: low. Only the viscosity is given at it.
    """
    thickness = float(viscosity(composition, temperature))
    uncertainty = float(viscosity_uncertainty(composition, temperature))
    sources = viscosity_source(composition)
    if pressure is not None:
        factor = float(pressure_factor(composition, temperature, pressure))
        thickness *= factor
        uncertainty = math.hypot(uncertainty, PRESSURE_UNCERTAINTY * math.log(factor))
        sources += f"; at {show(pressure, 'pressure')} after {pressure_source(composition)}"
    heaviness, mass = density(composition, temperature), associated_mass(composition)
    return [
        Property(
            name="viscosity",
            value=thickness,
            unit="Pa*s",
            shown=show(thickness, "viscosity", 3),
            uncertainty=uncertainty,
            source=sources,
        ),
        Property(
            name="density",
            value=float(heaviness),
            unit="kg/m^3",
            shown=f"{heaviness:.1f} kg/m^3",
            uncertainty=density_uncertainty(composition),
            source=density_source(composition) + "; at low pressure",
        ),
        Property(
            name=MASS,
            value=mass,
            unit="kg/mol",
            shown=f"{1e3 * mass:.1f} g/mol",
            uncertainty=ASSOCIATION_UNCERTAINTY,
            source=ASSOCIATION_SOURCE,
        ),
    ]


def as_text(composition: dict[str, float], temperature: float, properties: list[Property]) -> str:
    """Lay the properties out for reading; temperature in K."""
    moles = mole_fractions(composition)
    mixed = ", ".join(
        f"{name} {100 * share:g} % by volume ({100 * moles[name]:.3g} mol%)"
        for name, share in composition.items()
    )
    rows = [(one.name, one.shown, f"within {100 * one.uncertainty:.2g} %") for one in properties]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = [f"{mixed} at {show(temperature, 'temperature')}"]
    for row in rows:
        lines.append("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)))
    lines += ["", COVERAGE] if len(composition) > 1 else []
    lines += ["", "Sources"]
    lines += [f"  {one.name}: {one.source}" for one in properties]
    return "\n".join(line.rstrip() for line in lines)


def as_numbers(
    composition: dict[str, float],
    temperature: float,
    pressure: float | None,
    properties: list[Property],
) -> dict[str, Any]:
    """Lay the properties out for programs: SI (K, Pa), ready for ``json.dumps``."""
    return {
        "composition": composition,
        "mole_fractions": mole_fractions(composition),
        "temperature": temperature,
        "pressure": pressure,
        "properties": {
            KEYS.get(one.name, one.name): {
                "value": one.value,
                "unit": one.unit,
                "uncertainty": one.uncertainty,
                "source": one.source,
            }
            for one in properties
        },
    }
