"""Sums over points far apart, from the spectrum, against the sums themselves."""

import numpy as np
import pytest
from scipy import stats

from tailrace.journey.points import over_points, turns_around
from tailrace.measures import Moments

SHAPES = {
    "Gaussian": (stats.norm(20, 1.3), lambda omega: np.exp(-20j * omega - (1.3 * omega) ** 2 / 2)),
    "gamma": (stats.gamma(3.5, scale=0.8), lambda omega: (1 + 0.8j * omega) ** -3.5),
}


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("interval", [0.1, 1.5, 4.0, 9.0])
def test_sums_over_points(name, interval):
    shape, spectrum = SHAPES[name]
    mean, variance, skewness = (float(one) for one in shape.stats("mvs"))
    curve = Moments(
        *(np.array([one]) for one in (1.0, mean, variance, skewness * variance**1.5)),
    )
    apart, phase = np.array([interval]), np.array([0.3])
    whole, around = turns_around(apart, np.array([4e2]), np.sqrt(curve.variance))
    found = over_points(curve, spectrum(around), whole, apart, phase)
    times = (np.arange(-40, 4000) + 0.3) * interval
    heights = interval * shape.pdf(times)
    area = heights.sum()
    middle = heights @ times / area
    second, third = (heights @ (times - middle) ** n / area for n in (2, 3))
    assert found.area == pytest.approx(area, rel=1e-6)
    assert found.mean == pytest.approx(middle, rel=1e-6)
    assert found.variance == pytest.approx(second, rel=1e-5, abs=1e-10 * variance)
    assert found.third == pytest.approx(third, rel=1e-5, abs=1e-5 * variance**1.5)
