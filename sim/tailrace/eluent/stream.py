"""What flows through a part: the liquid and the solute in it, as numbers that every part reads."""

from dataclasses import dataclass, fields, replace

import numpy as np

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
    """

    flow_rate: float | np.ndarray
    diffusivity: float | np.ndarray
    viscosity: float | np.ndarray = float("nan")
    retention_factor: float | np.ndarray = 0.0
    temperature: float | np.ndarray = 298.15
    density: float | np.ndarray = WATER_DENSITY
    amount: float | np.ndarray = float("nan")
    absorptivity: float | np.ndarray = float("nan")

    @property
    def lanes(self) -> int:
        """Number of lanes that these numbers span."""
        return int(np.broadcast(self.flow_rate, self.diffusivity, self.retention_factor).size)

    def over(self, lanes: int) -> "Stream":
        """The same stream with every number as a (lanes,) array."""
        spread = {
            field.name: np.broadcast_to(np.asarray(getattr(self, field.name), float), (lanes,))
            for field in fields(self)
        }
        return replace(self, **spread)
