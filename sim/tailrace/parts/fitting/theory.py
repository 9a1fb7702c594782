"""Closed form of a joint's gap: a stirred core and a still pocket that diffusion fills."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.fitting.part import Fitting
from tailrace.signals.cumulants import Cumulants


def theory(fitting: Fitting, stream: Stream) -> Cumulants:
    """Cumulants of a stirred volume that exchanges with a stagnant slab by diffusion.

    The response in the Laplace variable s is 1 / (1 + s A + s B tanh(q)/q), q^2 = s c, with A and
    B the residence times of core and pocket at the full flow and c = depth^2/D. Its logarithm to
    third order gives, with T = A + B,

        mean T ,  variance T^2 + 2 B c/3 ,  third 2 T^3 + 2 T B c + 4 B c^2/5 .

    Stagnant pockets along a stream: Turner, Chem. Eng. Sci. 7 (1958) 156; Aris, ibid. 11 (1959)
    194 (sources from memory). Without a pocket: Sternberg, Adv. Chromatogr. 2 (1966) 205. The
    ring is taken as a slab of its depth and volume; a core swept by a jet mixes less than this.
    """
    lanes = (stream.lanes,)
    total = np.broadcast_to(np.asarray(fitting.residence(stream), float), lanes)
    pocket = fitting.unswept * total
    filling = np.square(fitting.pocket_depth) / stream.diffusivity
    variance = total**2 + 2 * pocket * filling / 3
    return Cumulants(
        mean=total,
        gaussian_variance=total**2,
        variance=variance,
        third=2 * total**3 + 2 * total * pocket * filling + 4 * pocket * filling**2 / 5,
    )
