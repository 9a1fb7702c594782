"""A tube: connecting capillary, needle seat, heat exchanger, sample loop; anything with a bore."""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from tailrace.eluent.pressure import LAMINAR_LIMIT, hagen_poiseuille, reynolds_number
from tailrace.eluent.stream import Stream
from tailrace.parts.base import EDGE_DETAIL, POINTS_PER_WIDTH, Part
from tailrace.quantities.arrays import FloatArray, Number

POINTS_PER_RESIDENCE = 128
"""In the first tube: an edge passes the middle of a short tube undiminished."""
POINTS_IN_LONG_TUBES = 16
"""Per standard deviation, of a narrow injection into a first tube that delays it by many widths."""
LEAST_FOURIER, MOST_FOURIER = 0.003, 100.0
"""Fourier numbers between which the tube is checked against the exact solution."""
LEAST_PECLET = 1000.0


@dataclass(frozen=True, kw_only=True)
class Tube(Part):
    """A straight, round, open tube in laminar flow.

    Parameters
    ----------
    bore : scalar or (lanes,) array, m
        Inner diameter.
    length : scalar or (lanes,) array, m
    """

    name: str
    bore: Number
    length: Number

    kind = "tube"
    smooths = True
    laminar = True
    shows_inside = True

    @property
    def volume(self) -> Number:
        """Scalar or (lanes,) array, m^3."""
        return np.pi / 4 * np.square(self.bore) * self.length

    def fourier_number(self, stream: Stream) -> FloatArray:
        """X = pi D L / F: residence over the radial diffusion time a^2/D. (lanes,) array, 1.

        Does not depend on the bore. Below about 1 the outlet signal is not Gaussian.
        """
        return np.asarray(np.pi * stream.diffusivity * self.length / stream.flow_rate)

    def peclet_number(self, stream: Stream) -> FloatArray:
        """Mean velocity times bore over diffusivity. (lanes,) array, 1.

        Above about 1000 molecular diffusion along the tube is negligible: it adds to the
        variance the fraction 192 / Pe^2 of Taylor's (Aris, Proc. R. Soc. A 235 (1956) 67).
        """
        return np.asarray(4 * stream.flow_rate / (np.pi * self.bore * stream.diffusivity))

    def reynolds_number(self, stream: Stream) -> Number:
        """Mean velocity times bore over kinematic viscosity. Scalar or (lanes,) array, 1."""
        return reynolds_number(stream, self.bore)

    def pressure_drop(self, stream: Stream) -> Number:
        """Hagen-Poiseuille. Scalar or (lanes,) array, Pa."""
        return hagen_poiseuille(stream, self.bore, self.length)

    def shortest_time(self, stream: Stream) -> Number:
        """Of the front, which rises in a few hundredths of the residence; (lanes,) array, s.

        The more mixing, the slower.
        """
        fourier = self.fourier_number(stream)
        return self.residence(stream) * np.minimum(0.15 * fourier, 0.2 / np.sqrt(fourier))

    def first_step(self, step: Number, edged: bool, stream: Stream) -> Number:
        """Resolve the front, and in a short tube the edges of the injection."""
        edge = np.asarray(self.residence(stream)) / POINTS_PER_RESIDENCE
        step = np.clip(edge, np.asarray(step) / EDGE_DETAIL, step)
        smooth = np.asarray(self.shortest_time(stream))
        return np.where(
            self.fourier_number(stream) > 1,
            smooth / POINTS_IN_LONG_TUBES,
            np.maximum(step, smooth / POINTS_PER_WIDTH),
        )

    def cautions(self, stream: Stream) -> list[str]:
        """Fourier, Peclet and Reynolds numbers at which the model is not sure."""
        fourier, peclet = self.fourier_number(stream), self.peclet_number(stream)
        reynolds = np.max(self.reynolds_number(stream))
        found = []
        if fourier.min() < LEAST_FOURIER or fourier.max() > MOST_FOURIER:
            found.append(
                f"{self.name}: Fourier number {fourier.min():.2g} is outside {LEAST_FOURIER} to "
                f"{MOST_FOURIER:g}, where the tube is checked against the exact solution"
            )
        if peclet.min() < LEAST_PECLET:
            found.append(
                f"{self.name}: Peclet number {peclet.min():.0f} is below {LEAST_PECLET:.0f}: "
                f"diffusion along the tube, about {192 / peclet.min() ** 2:.1g} of its long-tube "
                "variance, is left out of the simulation"
            )
        if reynolds > LAMINAR_LIMIT:
            found.append(
                f"{self.name}: Reynolds number {reynolds:.0f} is above {LAMINAR_LIMIT:.0f}: the "
                "flow may be turbulent, then neither the variance nor the pressure drop holds"
            )
        return found

    def assumptions(self, given: Collection[str]) -> list[str]:
        """Its shape."""
        return ["taken as straight and round"]
