"""A plug with nothing behind that hides its edges, against the exact answer.

Step response of tanks in closed form; of tubes the tests' own transfer function times the plug's,
which shares neither samples nor a method with any solver.
"""

import numpy as np
import pytest
from reference import transfer
from reference.journeys import FLOW, plug
from scipy.interpolate import CubicSpline
from scipy.special import gammainc

from tailrace.eluent.stream import Stream
from tailrace.journey import Itinerary, travel
from tailrace.measures import Outline
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.tube.part import Tube
from tailrace.signals import Band, Resolution
from tailrace.signals.cubic import sample

DIFFUSIVITY = 1e-9
METRICS = ("apex", "height", "width_half", "plates_half_height", "tailing_5", "asymmetry_10")
EXACT = 2e-6
"""Relative error of the exact metrics themselves."""


def exact_tube(fourier, duration):
    """A plug behind a tube of residence 1 s: a Band."""
    count, period = 1 << 13, 2.5 * (1.0 + duration)
    omega = 2 * np.pi / period * np.arange(count + 1)
    # few eigenvalue problems, and the logarithm between them: it is smooth after the transit
    knots = np.sinh(np.linspace(0.0, np.arcsinh(omega[-1]), 500))
    turned = transfer.tube(knots, fourier, 1.0) * np.exp(0.5j * knots)
    logarithm = np.log(np.abs(turned) + 1e-13) + 1j * np.unwrap(np.angle(turned))
    smooth = np.exp(CubicSpline(np.arcsinh(knots), logarithm)(np.arcsinh(omega)))
    spectrum = smooth * np.exp(-0.5j * omega) * transfer.plug(omega, duration)
    samples = 1 << 16
    values = np.fft.irfft(np.pad(spectrum, (0, samples // 2 - count)), samples) * samples / period
    return Band(values[None], np.zeros(1), np.array([period / samples]))


def exact_tanks(number, duration):
    """A plug behind tanks of residence 1 s, a sample on its corner: a Band."""
    step = duration / 4000
    times = step * np.arange(int((duration + 20.0) / step))
    rise, fall = (gammainc(number, number * np.maximum(times - a, 0.0)) for a in (0.0, duration))
    return Band(((rise - fall) / duration)[None], np.zeros(1), np.array([step]))


def read(band):
    """Metrics of an exact curve, where it stands above its rounding."""
    outline = Outline(band)
    return {
        "apex": outline.apex,
        "height": outline.height,
        "width_half": outline.width(0.5),
        "plates_half_height": outline.plates(),
        "tailing_5": outline.tailing(),
        "asymmetry_10": outline.asymmetry(),
    }


def journey(part, duration, accuracy, solver):
    stream = Stream(flow_rate=FLOW, diffusivity=DIFFUSIVITY, viscosity=1e-3, retention_factor=0.0)
    itinerary = Itinerary(
        lanes=("solute",),
        passages=((plug(duration), stream), (part, stream)),
        resolution=Resolution.for_accuracy(accuracy, solver),
    )
    return travel(itinerary)


def held(result, exact, accuracy):
    truth = read(exact)
    for name in METRICS:
        off = abs(result.recorded[name][0] - truth[name])
        assert off <= result.numerical_error[name][0] + EXACT * truth[name], name
    apart = sample(result.parts[-1].band, exact.times) - exact.values
    assert np.linalg.norm(apart) <= accuracy * np.linalg.norm(exact.values)


@pytest.mark.parametrize("solver", ["finite differences", "spectral"])
@pytest.mark.parametrize(
    ("fourier", "duration", "accuracy", "tailing"),
    [(0.1, 2.0, 1e-3, 0.86844), (0.4, 0.7, 1e-3, None)],
)
def test_a_plug_of_the_size_of_its_tube(fourier, duration, accuracy, tailing, solver):
    length = fourier * FLOW / (np.pi * DIFFUSIVITY)
    tube = Tube(name="tube", length=length, bore=np.sqrt(4 * FLOW / (np.pi * length)))
    exact = exact_tube(fourier, duration)
    if tailing is not None:
        assert read(exact)["tailing_5"] == pytest.approx(tailing, abs=1e-4)
    held(journey(tube, duration, accuracy, solver), exact, accuracy)


@pytest.mark.parametrize(
    ("number", "duration", "accuracy"),
    [(1, 0.3, 1e-3), (1, 6.0, 1e-4), (2, 1.7, 1e-3), (3, 12.0, 1e-4)],
)
def test_a_plug_into_tanks(number, duration, accuracy):
    chamber = Chamber(name="chamber", volume=FLOW, tanks=number)
    result = journey(chamber, duration, accuracy, "finite differences")
    held(result, exact_tanks(number, duration), accuracy)
