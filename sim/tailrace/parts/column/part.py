"""The column: a packed bed, linear and isocratic."""

from dataclasses import dataclass

import numpy as np

from tailrace.eluent.pressure import kozeny_carman

PARTICLES = ("core-shell", "fully porous")

TOTAL_POROSITY = {"core-shell": 0.52, "fully porous": 0.65}
"""Fraction of the bed that an unretained small molecule reaches.

A solid core takes its share of it: core-shell beds 0.50 to 0.55, fully porous 0.60 to 0.70
(Guiochon and Gritti, J. Chromatogr. A 1218 (2011) 1915, review; range from memory).
"""

EXTERNAL_POROSITY = 0.40
"""Fraction of the bed between the particles; 0.37 to 0.42 in slurry-packed beds (from memory)."""

KNOX = {"core-shell": (0.7, 2.0, 0.03), "fully porous": (1.0, 2.0, 0.1)}
"""A, B, C of h = A v^(1/3) + B/v + C v by kind of particle.

Fully porous: a good column after Knox, J. Chromatogr. Sci. 15 (1977) 352 (least h 2.40 at 2.7).
Core-shell: chosen within the published range of least h, 1.2 to 1.8, of 2.6 to 2.7 um particles
in 4.6 and 2.1 mm bores (Gritti and Guiochon, J. Chromatogr. A 1217 (2010) 1589; range from
memory); least h 1.73. A certified or measured ``plates`` is better than either.
"""


@dataclass(frozen=True, kw_only=True)
class Column:
    """A packed column with a constant retention factor and a given number of plates.

    Parameters
    ----------
    bore, length, particle_diameter : scalar or (lanes,) array, m
    particle : str
        ``core-shell`` or ``fully porous``.
    plates : scalar or (lanes,) array, 1
        NaN: from the reduced plate-height curve of the kind of particle.
    porosity : scalar or (lanes,) array, 1
        Total; NaN: the usual one of the kind of particle.
    """

    name: str
    bore: float | np.ndarray
    length: float | np.ndarray
    particle_diameter: float | np.ndarray
    particle: str = "fully porous"
    plates: float | np.ndarray = float("nan")
    porosity: float | np.ndarray = float("nan")

    kind = "column"

    @property
    def total_porosity(self):
        """Scalar or (lanes,) array, 1."""
        given = np.asarray(self.porosity, dtype=float)
        return np.where(np.isnan(given), TOTAL_POROSITY[self.particle], given)

    @property
    def volume(self):
        """Of the liquid that an unretained solute reaches. Scalar or (lanes,) array, m^3."""
        return np.pi / 4 * np.square(self.bore) * self.length * self.total_porosity

    def dead_time(self, stream):
        """Time of an unretained solute in the column. Scalar or (lanes,) array, s."""
        return self.volume / stream.flow_rate

    def residence(self, stream):
        """Retention time within the column, dead time times (1 + k). (lanes,) array, s."""
        return self.dead_time(stream) * (1 + np.asarray(stream.retention_factor, dtype=float))

    def reduced_velocity(self, stream):
        """Velocity of an unretained solute times particle diameter over diffusivity. 1."""
        velocity = self.length / self.dead_time(stream)
        return velocity * self.particle_diameter / stream.diffusivity

    def plate_number(self, stream):
        """Plates at this stream: those given, or length over h d_p. (lanes,) array, 1."""
        a, b, c = KNOX[self.particle]
        nu = self.reduced_velocity(stream)
        reduced_height = a * np.cbrt(nu) + b / nu + c * nu
        curve = self.length / (reduced_height * self.particle_diameter)
        given = np.asarray(self.plates, dtype=float)
        return np.where(np.isnan(given), curve, given)

    def pressure_drop(self, stream):
        """Kozeny-Carman, frits left out. Scalar or (lanes,) array, Pa."""
        return kozeny_carman(
            stream, self.bore, self.length, self.particle_diameter, EXTERNAL_POROSITY
        )
