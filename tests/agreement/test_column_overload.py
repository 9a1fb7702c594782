"""An overloaded column against the ideal model's shock and rear, and against the linear column."""

from dataclasses import replace

import numpy as np
import pytest
from reference import transfer
from reference.journeys import FLOW, bands_behind, gaussian, plug, relative_l2, stream
from scipy.special import erf

from tailrace.errors import BudgetError
from tailrace.measures import measure, moments
from tailrace.parts.column.part import Column
from tailrace.parts.column.theory import theory
from tailrace.signals.cubic import sample

DEAD_TIME, K, DURATION = 60.0, 3.0, 0.5


def loaded(plates, loading, k=K):
    """A column of unit capacity and the stream that brings this share of it."""
    part = Column(
        name="column",
        bore=np.sqrt(4 * DEAD_TIME * FLOW / (np.pi * 0.6 * 0.05)),
        length=0.05,
        particle_diameter=2e-6,
        porosity=0.6,
        plates=plates,
        capacity=1.0,
    )
    return part, stream(retention_factor=k, amount=loading)


def through(plates, loading, k=K, refinement=1.0):
    part, passing = loaded(plates, loading, k)
    return bands_behind((plug(DURATION), passing), (part, passing), refinement=refinement)


# The ideal model of one solute with a Langmuir isotherm, Golshan-Shirazi and Guiochon, Anal. Chem.
# 60 (1988) 2364 (from memory; it is the method of characteristics): a concentration c leaves at
# t = t_p + t_0 + t_0 k / (1 + b c)^2, the shock at t_p + t_0 + t_0 k (1 - sqrt(L))^2 at loading L.
@pytest.mark.parametrize("loading", [0.02, 0.1, 0.4])
def test_shock_and_rear_of_the_ideal_model(loading):
    (*_, band) = through(3e4, loading)
    times, values = band.times[0], band.values[0]
    front = DURATION + DEAD_TIME + DEAD_TIME * K * (1 - np.sqrt(loading)) ** 2
    top = np.argmax(values)
    half = np.interp(values[top] / 2, values[: top + 1], times[: top + 1])
    assert half == pytest.approx(front, rel=0.005)
    # amount per second: c F = c V0 / t0, so that b c = k t0 L c here
    for share in (0.25, 0.5, 0.75):
        level = share * values[top]
        rear = DURATION + DEAD_TIME + DEAD_TIME * K / (1 + K * DEAD_TIME * loading * level) ** 2
        found = np.interp(-level, -values[top:], times[top:])
        assert found == pytest.approx(rear, rel=0.005)


@pytest.mark.parametrize("loading", [1e-6, 0.02, 0.5])
@pytest.mark.parametrize("plates", [300.0, 1e4])
def test_nothing_is_lost_and_no_extreme_is_made(plates, loading):
    first, last = through(plates, loading)
    assert abs(last.area - first.area) < 1e-8
    assert last.values.min() > -1e-9 * last.values.max()
    assert last.values.max() <= first.values.max()
    falls = np.diff(
        np.sign(np.diff(np.where(last.values[0] > 1e-9 * last.values.max(), last.values[0], 0.0)))
    )
    assert np.sum(falls < 0) == 1


def test_a_little_solute_sees_a_linear_column():
    part, passing = loaded(400.0, 1e-9)
    first, last = bands_behind((gaussian(3.0), passing), (part, passing))
    times = np.linspace(60.0, 420.0, 800)
    expected = transfer.back_to_time(
        lambda omega: transfer.gaussian(omega, 3.0) * transfer.column(omega, 240.0, 400.0),
        times,
        3.0,
        1500,
    )
    assert relative_l2(sample(last, times[None])[0], expected) < 3e-3
    linear = theory(*loaded(400.0, 0.0))
    assert moments(last).mean == pytest.approx(float(linear.mean), rel=1e-3)
    added = moments(last).variance - moments(first).variance
    assert added == pytest.approx(float(linear.variance), rel=0.01)


@pytest.mark.parametrize(("m", "within"), [(0.5, 0.02), (2.0, 0.02), (8.0, 0.06)])
def test_shape_at_small_loads_with_dispersion(m, within):
    # Haarhoff and Van der Linde, Anal. Chem. 38 (1966) 573 (from memory): exp(-x^2/2) over
    # coth(m/2) + erf(x/sqrt 2), x from the linear retention in standard deviations. For m large
    # it is the ideal model's triangle, base 2 t0 k sqrt(L): so m = 2 N L (k/(1 + k))^2. It takes
    # the isotherm as a parabola, hence the bars; half or twice m is 6 to 60 % away.
    plates = 1e4
    loading = m / (2 * plates * (K / (1 + K)) ** 2)
    part, passing = loaded(plates, loading)
    (*_, band) = bands_behind((plug(0.1), passing), (part, passing), refinement=2.0)
    retention = DEAD_TIME * (1 + K)
    x = (band.times[0] - 0.05 - retention) * np.sqrt(plates) / retention
    expected = np.exp(-(x**2) / 2) / (1 / np.tanh(m / 2) + erf(x / np.sqrt(2)))
    expected /= expected.sum() * band.step[0]
    assert relative_l2(band.values[0], expected) < within


def test_more_solute_leaves_earlier_lower_per_amount_and_more_skewed():
    figures = [measure(through(5e3, loading)[-1]) for loading in (1e-9, 0.003, 0.03)]
    apex, tailing = ([float(one[name][0]) for one in figures] for name in ("apex", "tailing_5"))
    assert apex[0] > apex[1] > apex[2]
    assert tailing[0] < tailing[1] < tailing[2]


def test_no_closed_form_is_claimed():
    text = theory(*loaded(1e4, 0.1))
    assert np.isnan(text.mean) and np.isnan(text.variance) and np.isnan(text.third)
    assert np.isfinite(text.gaussian_variance)


def test_lanes_do_not_compete():
    part, passing = loaded(2e3, np.array([0.02, 0.2]))
    passings = passing.over(2)
    injected = (plug(DURATION), passings)
    from tailrace.journey.propagation import pass_through
    from tailrace.signals import Resolution

    (*_, both), _ = pass_through([injected, (part, passings)], Resolution())
    for lane, loading in enumerate((0.02, 0.2)):
        (*_, alone) = through(2e3, loading)
        assert moments(both).mean[lane] == pytest.approx(moments(alone).mean[0], rel=1e-9)


def test_a_band_of_too_many_steps_is_refused_before_memory_is_taken():
    part, passing = loaded(1e4, 0.1)
    tiny = replace(part, bore=part.bore * 1e-5)
    with pytest.raises(BudgetError, match=r"column: its march would take \d+ steps"):
        bands_behind((plug(60.0), passing), (tiny, passing))
