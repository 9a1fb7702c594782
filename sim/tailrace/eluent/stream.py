"""``Stream``: what a part sees of the liquid; and the pressure that it takes."""

from dataclasses import dataclass, replace

import numpy as np

from tailrace.quantities.arrays import Number
from tailrace.quantities.checks import checked

WATER_DENSITY = 1000.0
"""kg/m^3; stands in for the density of the eluent in Reynolds numbers, where 20 % do not matter."""


@dataclass(frozen=True, kw_only=True)
class Stream:
    """Liquid and solutes as one part sees them. Scalars hold for every lane.

    Parameters
    ----------
    flow_rate : scalar or (lanes,) array, m^3/s
    diffusivity : scalar or (lanes,) array, m^2/s
        Diffusion coefficient of the solute in the liquid, at this part's temperature.
    viscosity : scalar or (lanes,) array, Pa s
        At this part's temperature; NaN where it is not known (pressures are then NaN too).
    retention_factor : scalar or (lanes,) array, 1
        k on the column; no other part reads it.
    temperature : scalar or (lanes,) array, K
    density : scalar or (lanes,) array, kg/m^3
    amount : scalar or (lanes,) array, mol
        Of the solute, as injected; NaN where it is not given.
    absorptivity : scalar or (lanes,) array, m^2/mol
        Decadic, of the solute; NaN where it is not given.
    share : scalar or (lanes,) array, 1
        Of the amount that was injected: what has not left through a tee.
    thickest : scalar or (lanes,) array, 1
        Highest viscosity on the programme of a gradient, over that above.
    """

    flow_rate: float | np.ndarray
    diffusivity: float | np.ndarray
    viscosity: float | np.ndarray = float("nan")
    retention_factor: float | np.ndarray = 0.0
    temperature: float | np.ndarray = 298.15
    density: float | np.ndarray = WATER_DENSITY
    amount: float | np.ndarray = float("nan")
    absorptivity: float | np.ndarray = float("nan")
    share: float | np.ndarray = 1.0
    thickest: float | np.ndarray = 1.0

    def __post_init__(self) -> None:
        """Refuse a liquid that does not flow, and numbers that no liquid has; raises PartError."""
        checked(self, name="stream")

    @property
    def lanes(self) -> int:
        """Number of lanes that these numbers span."""
        return int(np.broadcast(self.flow_rate, self.diffusivity, self.retention_factor).size)

    @property
    def schmidt_number(self) -> Number:
        """Viscosity over density and diffusivity, 1; a scalar or a (lanes,) array."""
        diffusive: Number = self.density * self.diffusivity
        return self.viscosity / diffusive

    def at(self, flow_rate: float | np.ndarray, share: float | np.ndarray) -> "Stream":
        """The same liquid with another flow, m^3/s, and share of the amount, 1."""
        return replace(self, flow_rate=flow_rate, share=share)

    def over(self, lanes: int) -> "Stream":
        """The same stream with every number as a (lanes,) array."""
        numbers = vars(self)
        if all(np.shape(value) == (lanes,) for value in numbers.values()):
            return self
        spread = {
            name: np.broadcast_to(np.asarray(value, float), (lanes,))
            for name, value in numbers.items()
        }
        return replace(self, **spread)


LAMINAR_LIMIT = 2100.0
"""Reynolds number in a straight tube above which laminar flow is no longer sure.

Reynolds, Phil. Trans. R. Soc. 174 (1883) 935, gives about 2000; handbooks 2100 to 2300.
"""

KOZENY_CARMAN = 180.0
"""Carman, Trans. Inst. Chem. Eng. 15 (1937) 150-166: 36 times the Kozeny constant of 5."""


def hagen_poiseuille(stream: Stream, bore: Number, length: Number) -> Number:
    """Pressure drop of a round tube, 128 eta L F / (pi d^4).

    Parameters
    ----------
    bore, length : scalar or (lanes,) array, m

    Returns
    -------
    scalar or (lanes,) array, Pa
        Valid for Reynolds numbers below LAMINAR_LIMIT.
    """
    return 128 * stream.viscosity * length * stream.flow_rate / (np.pi * np.power(bore, 4))


def reynolds_number(stream: Stream, bore: Number) -> Number:
    """Reynolds number of a round tube, 4 rho F / (pi d eta). Scalar or (lanes,) array, 1."""
    return 4 * stream.density * stream.flow_rate / (np.pi * bore * stream.viscosity)


def kozeny_carman(
    stream: Stream,
    bore: Number,
    length: Number,
    particle_diameter: Number,
    external_porosity: Number,
) -> Number:
    """Pressure drop of a bed of spheres (Kozeny-Carman; Carman 1937, constant 180).

    Parameters
    ----------
    bore, length, particle_diameter : scalar or (lanes,) array, m
    external_porosity : scalar or (lanes,) array, 1
        Fraction of the bed between the particles.

    Returns
    -------
    scalar or (lanes,) array, Pa
        Without frits. Packed beds are met within about 20 % (common practice, no source).
    """
    superficial = 4 * stream.flow_rate / (np.pi * np.square(bore))
    resistance = KOZENY_CARMAN * (1 - external_porosity) ** 2 / external_porosity**3
    return resistance * stream.viscosity * length * superficial / np.square(particle_diameter)
