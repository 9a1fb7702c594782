"""A brief injection into a tube of one residence time and any Fourier number."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.journey.itinerary import Itinerary
from tailrace.parts.injector.part import Injector
from tailrace.parts.tube.part import Tube
from tailrace.signals.resolution import Resolution

FLOW, LENGTH = 1e-8, 0.5
"""m^3/s and m; the shape of what leaves does not depend on them."""
BRIEF = 0.002
"""Standard deviation of the injected Gaussian over the residence time."""
ACCURACY, ACCURACY_WHERE_CHEAP = 2e-4, 2e-5
"""Finer than by default, since these figures are held against exact curves."""
CHEAP = 0.1, 10.0
"""Fourier numbers between which a tube empties soon, and gives no narrow signal."""


def pulse(fourier: float) -> Itinerary:
    """The journey of a Gaussian of standard deviation BRIEF through one tube, 1 s long.

    Parameters
    ----------
    fourier : float, 1
        Fourier number pi D L / F.
    """
    accuracy = ACCURACY_WHERE_CHEAP if CHEAP[0] <= fourier <= CHEAP[1] else ACCURACY
    stream = Stream(flow_rate=FLOW, diffusivity=fourier * FLOW / (np.pi * LENGTH))
    bore = float(np.sqrt(4 * FLOW / (np.pi * LENGTH)))
    return Itinerary(
        lanes=(f"X = {fourier:g}",),
        passages=(
            (Injector(shape="gaussian", sigma=BRIEF), stream),
            (Tube(name="tube", bore=bore, length=LENGTH), stream),
        ),
        resolution=Resolution.for_accuracy(accuracy),
    )
