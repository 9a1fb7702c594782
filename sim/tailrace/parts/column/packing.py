"""Plate height of a packed bed against velocity, in reduced form, for a solute of any retention.

h = A v^(1/3) + B/v + C v + C_f v^(2/3), v the velocity between the particles times particle
diameter over diffusivity. Only A and the two diffusivities inside the shell are empirical; B and
the C's follow from the geometry of the bed and the particle.
"""

import numpy as np

from tailrace.quantities.arrays import FloatArray, Number

EDDY = {"core-shell": 0.40, "fully porous": 0.65}
"""A of the term A v^(1/3) (Knox, J. Chromatogr. Sci. 15 (1977) 352), by kind of particle.

Chosen so that the least h at k = 2 is 1.5 and 2.25. Fully porous: "h = 2 the norm for well-packed
columns", to 2.4 in a laboratory's own (from memory). Core-shell: "routinely 1.5 to 1.8", as low as
1.1 to 1.3, and higher in 2.1 mm bores (Broeckhoven, Cooter and Desmet, J. Pharm. Anal. 3 (2013)
313).
"""

PORE_DIFFUSIVITY = 0.6
STATIONARY_DIFFUSIVITY = 0.25
"""Of a small solute in the pores' liquid and along their surface, over that in the free liquid.

Obstructed pores 0.5 to 0.7, surface of reversed phases 0.2 to 0.5 (Miyabe and Guiochon, J. Sep.
Sci. 26 (2003) 155; both ranges from memory). Pores are taken as wide against the solute.
"""

FILM = 1.09
"""Wilson and Geankoplis, Ind. Eng. Chem. Fundam. 5 (1966) 9 (factor from memory)."""

TYPICAL_ERROR = 0.2
"""Relative; how far the plates of a good column are from the curve (common practice, no source)."""


def reduced_heights(
    velocity: FloatArray,
    zone_retention: FloatArray,
    shell_porosity: Number,
    external_porosity: Number,
    core_ratio: Number,
    eddy: float,
) -> tuple[FloatArray, FloatArray]:
    """Reduced plate height: what acts as dispersion, and what slow exchange with particles adds.

    Parameters
    ----------
    velocity : (lanes,) array, 1
        Reduced, between the particles.
    zone_retention : (lanes,) array, 1
        Time in the particles over time between them, pores included.
    shell_porosity, external_porosity : scalar or (lanes,) array, 1
    core_ratio : scalar or (lanes,) array, 1
        Diameter of the solid core over that of the particle; 0: fully porous.
    eddy : float, 1

    Returns
    -------
    dispersion, exchange : (lanes,) array, 1
        B by Maxwell's effective medium (Deridder and Desmet, J. Chromatogr. A 1227 (2012) 194); C
        of a porous shell on a solid core (Kaczmarski and Guiochon, Anal. Chem. 79 (2007) 4648).
    """
    outside, inside = external_porosity, 1 - external_porosity
    shell = shell_permeability(
        zone_retention, shell_porosity, external_porosity, 1 - np.power(core_ratio, 3)
    )
    particle = shell * 2 * (1 - np.power(core_ratio, 3)) / (2 + np.power(core_ratio, 3))
    along = 2 / outside * effective_medium(particle, inside)
    share = outside / inside * np.square(zone_retention / (1 + zone_retention))
    across = share / 30 * core_factor(core_ratio) / shell
    sherwood = FILM * np.power(outside, -2 / 3) * np.cbrt(velocity)
    film = share / 3 * velocity / sherwood
    return eddy * np.cbrt(velocity) + along / velocity, across * velocity + film


def shell_permeability(
    zone_retention: Number, shell_porosity: Number, external_porosity: Number, shell_share: Number
) -> Number:
    """Flux of solute in the shell over that in free liquid at the same gradient outside.

    Pores and surface side by side. ``shell_share`` is the share of the particle that is shell.
    Scalars or (lanes,) arrays, all 1.
    """
    held = zone_retention * external_porosity / ((1 - external_porosity) * shell_share)
    surface = np.maximum(held - shell_porosity, 0.0)
    return PORE_DIFFUSIVITY * shell_porosity + STATIONARY_DIFFUSIVITY * surface


def effective_medium(permeability: Number, fraction: Number) -> Number:
    """Permeability of a bed of spheres over that of the liquid around them (Maxwell, 1873).

    Parameters
    ----------
    permeability : scalar or (lanes,) array, 1
        Of the spheres, over that of the liquid.
    fraction : scalar or (lanes,) array, 1
        Of the bed that is spheres.
    """
    contrast = (permeability - 1) / (permeability + 2)
    return (1 + 2 * contrast * fraction) / (1 - contrast * fraction)


def core_factor(core_ratio: Number) -> FloatArray:
    """By how much a solid core lowers C (Kaczmarski and Guiochon 2007). (lanes,) array, 1."""
    p = np.asarray(core_ratio, dtype=float)
    return np.asarray((1 + 2 * p + 3 * p**2 - p**3 - 5 * p**4) / (1 + p + p**2) ** 2)
