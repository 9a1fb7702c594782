"""The transfer function of a tube with one bend, read between the nodes of ``bent/lattice.py``."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.tube.bent import lattice
from tailrace.parts.tube.bent.lanes import single
from tailrace.parts.tube.part import Tube
from tailrace.parts.tube.transfer import straight
from tailrace.quantities.arrays import ComplexArray, FloatArray


def transfer(tube: Tube, stream: Stream, omega: FloatArray) -> ComplexArray:
    """Flux average behind the tube of a band that enters uniform over the section.

    Parameters
    ----------
    omega : (lanes, frequencies) array, rad/s

    Returns
    -------
    (lanes, frequencies) complex array, 1
        Good to ``lattice.ERROR``; variance and third cumulant to 1e-4 and 5e-4 of themselves.
        Straight lanes as in ``tube/transfer.py``, and frequencies at which next to nothing passes.
    """
    dean, strength, length, residence = single(tube, stream)
    found = straight(length, residence, omega)
    bent = strength > 0
    if np.any(bent):
        unit = (residence / length)[bent, None]
        read, u = lattice.response(dean[bent], strength[bent], length[bent], omega[bent] * unit)
        found[bent] = np.where(u <= lattice.REACHES[-1], read, found[bent])
    return found
