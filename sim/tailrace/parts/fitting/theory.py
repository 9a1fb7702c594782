"""Closed form of a joint's gap: a stirred core, and a pocket that jet and diffusion fill."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.fitting.part import Fitting
from tailrace.signals.cumulants import Cumulants


def theory(fitting: Fitting, stream: Stream) -> Cumulants:
    """Cumulants of a stirred volume that exchanges with a pocket.

    The response in the Laplace variable s is 1 / (1 + s A + s B tanh(q)/q), q^2 = s c, with A and
    B the residence times of core and pocket at the full flow and c the pocket's filling time. Its
    logarithm to third order gives, with T = A + B,

        mean T ,  variance T^2 + 2 B c/3 ,  third 2 T^3 + 2 T B c + 4 B c^2/5 .

    By diffusion alone, into a slab of the ring's depth and volume, c = depth^2/D. By an exchange
    flow e F alone c = 3 B/e: the variance is then T^2 + 2 B^2/e, that of a stirred pocket.

    Stagnant pockets along a stream: Turner, Chem. Eng. Sci. 7 (1958) 156; Aris, ibid. 11 (1959)
    194 (sources from memory). Without a pocket: Sternberg, Adv. Chromatogr. 2 (1966) 205.
    """
    lanes = (stream.lanes,)
    total = np.broadcast_to(np.asarray(fitting.residence(stream), float), lanes)
    pocket = fitting.unswept * total
    filling = fitting.filling_time(stream)
    variance = total**2 + 2 * pocket * filling / 3
    return Cumulants(
        mean=total,
        gaussian_variance=total**2,
        variance=variance,
        third=2 * total**3 + 2 * total * pocket * filling + 4 * pocket * filling**2 / 5,
    )
