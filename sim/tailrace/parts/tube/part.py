"""A tube: connecting capillary, needle seat, heat exchanger, sample loop; anything with a bore."""

from dataclasses import dataclass

import numpy as np

from tailrace.eluent.pressure import hagen_poiseuille, reynolds_number


@dataclass(frozen=True, kw_only=True)
class Tube:
    """A straight, round, open tube in laminar flow.

    Parameters
    ----------
    bore : scalar or (lanes,) array, m
        Inner diameter.
    length : scalar or (lanes,) array, m
    """

    name: str
    bore: float | np.ndarray
    length: float | np.ndarray

    kind = "tube"

    @property
    def volume(self):
        """Scalar or (lanes,) array, m^3."""
        return np.pi / 4 * np.square(self.bore) * self.length

    def residence(self, stream):
        """Mean time in the tube, volume / flow. Scalar or (lanes,) array, s."""
        return self.volume / stream.flow_rate

    def fourier_number(self, stream):
        """X = pi D L / F: residence over the radial diffusion time a^2/D. (lanes,) array, 1.

        Does not depend on the bore. Below about 1 the outlet signal is not Gaussian.
        """
        return np.pi * stream.diffusivity * self.length / stream.flow_rate

    def peclet_number(self, stream):
        """Mean velocity times bore over diffusivity. (lanes,) array, 1.

        Above about 1000 molecular diffusion along the tube is negligible: it adds to the
        variance the fraction 192 / Pe^2 of Taylor's (Aris, Proc. R. Soc. A 235 (1956) 67).
        """
        return 4 * stream.flow_rate / (np.pi * self.bore * stream.diffusivity)

    def reynolds_number(self, stream):
        """Mean velocity times bore over kinematic viscosity. Scalar or (lanes,) array, 1."""
        return reynolds_number(stream, self.bore)

    def pressure_drop(self, stream):
        """Hagen-Poiseuille. Scalar or (lanes,) array, Pa."""
        return hagen_poiseuille(stream, self.bore, self.length)
