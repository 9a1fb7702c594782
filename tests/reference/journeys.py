"""Short ways to set up parts, streams and journeys in tests."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.propagation import pass_through
from tailrace.parts.injector.part import Injector
from tailrace.parts.tube.part import Tube
from tailrace.signals.resolution import Resolution

FLOW = 1e-8


def stream(diffusivity=1e-9, **others):
    return Stream(flow_rate=FLOW, diffusivity=diffusivity, viscosity=1e-3, **others)


def tube_with(fourier, residence=1.0, name="tube"):
    """A tube and its stream with this Fourier number and residence time."""
    length = 0.5
    bore = np.sqrt(4 * residence * FLOW / (np.pi * length))
    return Tube(name=name, bore=bore, length=length), stream(fourier * FLOW / (np.pi * length))


def gaussian(sigma):
    return Injector(shape="gaussian", sigma=sigma)


def plug(duration):
    return Injector(shape="plug", volume=duration * FLOW)


def bands_behind(*passages, refinement=1.0):
    """Bands behind each (part, stream), one lane, without a journey's bookkeeping."""
    passages = [(part, passing.over(1)) for part, passing in passages]
    return pass_through(passages, Resolution(refinement=refinement))[0]


def itinerary(*parts, passing=None, lanes=("solute",), **others):
    passing = passing or stream()
    return Itinerary(lanes=lanes, passages=tuple((part, passing) for part in parts), **others)


def relative_l2(values, reference):
    return np.linalg.norm(values - reference) / np.linalg.norm(reference)
