"""The transfer function of a tube that is bent, or that is joined to others before it."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Passages
from tailrace.parts.tube.bent import between, spectrum
from tailrace.parts.tube.bent.lanes import single, ways
from tailrace.parts.tube.part import Tube
from tailrace.parts.tube.spectrum import LEAST, MOST
from tailrace.parts.tube.transfer import straight
from tailrace.quantities.arrays import ComplexArray, FloatArray


def transfer(tube: Tube, stream: Stream, omega: FloatArray, before: Passages = ()) -> ComplexArray:
    """Flux average behind the tube of a band that enters uniform over the section.

    Parameters
    ----------
    omega : (lanes, frequencies) array, rad/s
    before : passages
        Tubes whose profile it takes over, from where the band was uniform: the answer is that of
        all of them together, for none of them has one of its own.

    Returns
    -------
    (lanes, frequencies) complex array, 1
        Good to ``Tube.known``, variance and third cumulant to 1e-4 and 5e-4 of themselves.
        Straight lanes as in ``tube/transfer.py``, and frequencies at which next to nothing passes.
    """
    if not before and len(tube.stretches) == 1:
        return _lone(tube, stream, omega)
    chains = ways([*before, (tube, stream)], omega.shape[0])
    return between.response(chains, omega)


def _lone(tube: Tube, stream: Stream, omega: FloatArray) -> ComplexArray:
    dean, strength, length, residence = single(tube, stream)
    found = np.empty(omega.shape, complex)
    plain = (strength == 0) & (length >= LEAST) & (length <= MOST)
    found[plain] = straight(length[plain], residence[plain], omega[plain])
    unit = (residence / length)[:, None]
    held = ~plain & spectrum.passes(dean, strength, length)
    read = [one[held] for one in (dean, strength, length, omega * unit)]
    found[held] = spectrum.response(*read)
    bent = np.flatnonzero(~plain & ~held)
    if bent.size:
        chains = ways([(tube, stream)], omega.shape[0])
        found[bent] = between.response([chains[lane] for lane in bent], omega[bent])
    return found
