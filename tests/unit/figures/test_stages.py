"""Bands behind each part: a plug is as long as it is, however far apart its samples stand."""

from types import SimpleNamespace

import numpy as np
import pytest

from tailrace.figures.curves import half_width
from tailrace.figures.path import _seen
from tailrace.signals.band import Band

COARSE = Band(
    values=np.array([[0.0, 1.2, 2.7, 3.0, 0.4, 0.0]]),
    start=np.array([-0.19]),
    step=np.array([0.19]),
)


def part(mean, variance):
    return SimpleNamespace(
        band=COARSE,
        injects=True,
        mean_closed_form=np.array([mean]),
        variance_exact=np.array([variance]),
    )


def test_a_plug_is_as_long_as_its_volume_over_the_flow():
    # 1 uL at 0.3 mL/min
    length = 1e-9 / (0.3e-6 / 60)
    times, heights = _seen(part(length / 2, length**2 / 12), 0)
    assert half_width(times, heights) == pytest.approx(length)
    assert np.trapezoid(heights, times) == pytest.approx(1)


def test_what_is_no_plug_is_drawn_by_its_samples():
    times, _ = _seen(part(0.1, 0.002), 0)
    assert times.size > 4
