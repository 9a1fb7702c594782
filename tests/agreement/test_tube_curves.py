"""The tube's outlet curve against the product's spectral solver, and that against another."""

import numpy as np
import pytest
from reference import transfer
from reference.journeys import bands_behind, gaussian, plug, relative_l2, tube_with

from tailrace.measures import moments
from tailrace.parts.tube import spectral
from tailrace.parts.tube.theory import theory
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample

WIDTHS = (0.02, 0.3, 2.0)
"""Over the transit time."""


def band_of(sigma, points=12, reach=9):
    times = np.arange(-reach * points, reach * points + 1) * sigma / points
    values = np.exp(-((times / sigma) ** 2) / 2) / (sigma * np.sqrt(2 * np.pi))
    return Band(values[None], times[:1], np.array([sigma / points]))


@pytest.mark.parametrize("fourier", [0.003, 0.03, 0.3, 3.0, 30.0])
def test_spectral_solver_reaches_a_millionth(fourier):
    # tests/reference/transfer.py: other basis, other exponential, other way back to time
    tube, passing = tube_with(fourier)
    inlet = band_of(0.1)
    out = spectral.march(tube, passing, inlet, None)
    times = out.times[0][:: max(1, out.values.shape[1] // 400)]
    window = out.times[0][-1] - out.times[0][0]
    expected = transfer.back_to_time(
        lambda omega: transfer.gaussian(omega, 0.1) * transfer.tube(omega, fourier, 1.0, modes=48),
        times,
        75.0,
        int(np.ceil(75.0 * window / (2 * np.pi))),
    )
    assert relative_l2(sample(out, times[None])[0], expected) < 1e-6


@pytest.mark.parametrize("fourier", [0.003, 0.1, 1.0, 10.0])
def test_spectral_cumulants(fourier):
    tube, passing = tube_with(fourier)
    inlet = band_of(0.2)
    before, after = moments(inlet), moments(spectral.march(tube, passing, inlet, None))
    text = theory(tube, passing)
    assert after.variance - before.variance == pytest.approx(text.variance, rel=2e-6)
    # the transfer function's own tolerance, 3e-8, stands before widths of about a second cubed
    assert after.third - before.third == pytest.approx(text.third, rel=2e-5, abs=1e-8)


@pytest.mark.parametrize("fourier", [0.003, 0.03, 0.3, 3.0, 30.0])
@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("shape", ["smooth", "plug"])
def test_outlet_curve_at_default_accuracy(fourier, width, shape):
    # the bar is the accuracy asked for by default, 1e-3; edges ring in the spectral answer itself
    tube, passing = tube_with(fourier)
    injector = gaussian(width) if shape == "smooth" else plug(width)
    inlet, out = bands_behind((injector, passing), (tube, passing))
    expected = sample(spectral.march(tube, passing, inlet, None), out.times)
    assert relative_l2(out.values, expected) < 1e-3


@pytest.mark.parametrize("accuracy", [1e-2, 1e-3, 1e-4])
@pytest.mark.parametrize("fourier", [0.01, 0.1, 1.0])
def test_accuracy_asked_for_is_delivered(fourier, accuracy):
    tube, passing = tube_with(fourier)
    refinement = (1e-3 / accuracy) ** 0.25
    inlet, out = bands_behind((gaussian(0.1), passing), (tube, passing), refinement=refinement)
    expected = sample(spectral.march(tube, passing, band_of(0.1, points=16), None), out.times)
    assert relative_l2(out.values, expected) < accuracy
    assert inlet.step[0] < 0.1
