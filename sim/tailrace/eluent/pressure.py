"""Pressure drop of open tubes and packed beds in laminar flow."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.quantities.arrays import Number

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
