"""Plugs and measured injections with nothing behind that would hide their edges: exact answers.

Step response of tanks in closed form; of chains with tubes products of transfer functions
(``benchmarks/exact.py``), which share neither samples nor a method with any solver.
"""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest
from reference.journeys import FLOW, itinerary, plug, tube_with
from scipy.special import gammainc

from tailrace.journey import travel
from tailrace.journey.verification import verify
from tailrace.measures import measure, moments
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.injector.part import Injector
from tailrace.signals import Band
from tailrace.signals.cubic import sample

METRICS = ("apex", "height", "width_half", "plates_half_height", "tailing_5", "asymmetry_10")
EXACT = 2e-6
"""Relative error of the exact metrics themselves."""


def exact_tanks(number, duration):
    """A plug behind tanks of residence 1 s, a sample on its corner: a Band."""
    step = duration / 8000
    times = step * np.arange(int((duration + 20.0) / step))
    rise, fall = (gammainc(number, number * np.maximum(times - a, 0.0)) for a in (0.0, duration))
    return Band(((rise - fall) / duration)[None], np.zeros(1), np.array([step]))


def held(result, exact, accuracy):
    truth = measure(exact)
    for name in METRICS:
        off = abs(result.recorded[name][0] - truth[name][0])
        assert off <= result.numerical_error[name][0] + EXACT * truth[name][0], name
    apart = sample(result.parts[-1].band, exact.times) - exact.values
    assert np.linalg.norm(apart) <= accuracy * np.linalg.norm(exact.values)


@pytest.fixture(scope="module")
def plugs():
    """The benchmark of that name."""
    folder = Path(__file__).parents[2] / "benchmarks"
    sys.path.insert(0, str(folder))
    try:
        spec = importlib.util.spec_from_file_location("plugs", folder / "plugs.py")
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
    finally:
        sys.path.pop(0)
    return module


@pytest.fixture(scope="module")
def table(plugs):
    return plugs.TubeTable(points=1600)


@pytest.mark.parametrize(
    ("fourier", "duration", "tailing", "solver"),
    [
        (0.1, 2.0, 0.86845, "finite differences"),
        (0.1, 2.0, 0.86845, "spectral"),
        (0.1, 0.05, None, "finite differences"),
        (0.4, 0.7, None, "finite differences"),
        (0.4, 0.7, None, "spectral"),
    ],
)
def test_a_plug_of_the_size_of_its_tube(plugs, table, fourier, duration, tailing, solver):
    tube, _ = plugs.tube_with(fourier)
    parts = [Injector(shape="plug", volume=duration * plugs.FLOW), tube]
    exact = plugs.exact_curve(table, parts)
    pairs = plugs.compare(parts, *exact, 1e-3, solver)
    for name, (true, stated) in zip((*plugs.FIGURES, "signal"), pairs, strict=True):
        assert true <= stated + plugs.TRUTH, name
    if tailing is not None:
        assert plugs.figures(exact[0])["tailing_5"] == pytest.approx(tailing, abs=2e-5)


def test_a_plug_of_half_its_tube():
    # 1.87458 by benchmarks/exact.py, whose table must reach far for so short a tube
    tube, passing = tube_with(0.01)
    result = travel(itinerary(plug(0.5), tube, passing=passing))
    assert result.recorded["tailing_5"] == pytest.approx(1.87458, rel=3e-4)
    assert result.numerical_error["tailing_5"] < 5e-3


@pytest.mark.parametrize(
    ("number", "duration", "accuracy"),
    [(1, 0.3, 1e-3), (1, 6.0, 1e-4), (1, 300.0, 1e-3), (2, 1.7, 1e-3), (3, 12.0, 1e-4)],
)
def test_a_plug_into_tanks(number, duration, accuracy):
    chamber = Chamber(name="chamber", volume=FLOW, tanks=number)
    result = travel(itinerary(plug(duration), chamber).computed(accuracy=accuracy))
    held(result, exact_tanks(number, duration), accuracy)


def test_a_corner_is_exact_at_the_samples_and_moments_stay():
    chamber = Chamber(name="chamber", volume=FLOW)
    band = travel(itinerary(plug(0.3), chamber)).parts[-1].band
    rise, fall = (-np.expm1(-np.maximum(band.times[0] - a, 0.0)) for a in (0.0, 0.3))
    assert band.values[0] == pytest.approx((rise - fall) / 0.3, abs=1e-6)
    assert moments(band).mean == pytest.approx(0.15 + 1.0, rel=1e-8)
    assert moments(band).variance == pytest.approx(0.3**2 / 12 + 1.0, rel=1e-7)


def test_verify_sees_a_sampled_inlet(monkeypatch):
    # without its edges finite differences take the plug as its samples say; the other solver not
    from tailrace.parts.tube import edges, march

    tube, passing = tube_with(0.1)
    made = itinerary(plug(2.0), tube, passing=passing)
    sound = verify(made)
    assert sound.agree and abs(sound.differences["tailing_5"][0]) < 3e-4
    whole = march.along

    def sampled(fourier, residence, band, resolution):
        thin = edges.doubled_steps(band, 3)[-1]
        return whole(fourier, residence, Band(thin.values, thin.start, thin.step), resolution)

    monkeypatch.setattr(march, "along", sampled)
    assert abs(verify(made).differences["tailing_5"][0]) > 1e-3


def test_random_injections_lie_within_their_estimates(plugs, table):
    """A small sample of benchmarks/plugs.py, which asks 300 plugs and 100 measured injections."""
    for draw, cases in ((plugs.random_plug, 12), (plugs.random_signal, 6)):
        pairs, _ = plugs.run(table, draw, cases, 7, False, least=0.1)
        true, stated = pairs[..., 0], pairs[..., 1]
        assert len(pairs) == cases
        assert np.mean(true <= stated + plugs.TRUTH) >= plugs.LEAST
