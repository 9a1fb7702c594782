"""Exact cumulants of bent tubes: against the straight tube, tables of others, and random walkers.

The numbers of the tables were computed in two ways that share no code, and confirmed by random
walkers within 2 %; ratios to Taylor's variance X/24.
"""

import numpy as np
import pytest

from tailrace.parts.tube.bent.flow import dean_flow
from tailrace.parts.tube.bent.galerkin import section
from tailrace.parts.tube.bent.theory import at_lengths, cumulants
from tailrace.parts.tube.theory import reduced_cumulants

LENGTHS = np.array([0.03, 0.1, 0.3, 1.0])
RATIO_AND_SKEWNESS = {
    300: [(0.27273, 1.847), (0.53359, 1.159), (0.76167, 0.698), (0.82828, 0.377)],
    1000: [(0.27114, 1.849), (0.50029, 1.186), (0.53864, 0.780), (0.49796, 0.404)],
    3000: [(0.25794, 1.868), (0.32268, 1.331), (0.30933, 0.690), (0.31220, 0.367)],
}
LONG = {
    10: 0.99977, 30: 0.9979, 100: 0.97738, 200: 0.91833, 300: 0.84169, 500: 0.69381,
    1000: 0.48362, 2000: 0.3557, 3000: 0.31323, 5000: 0.2779, 10000: 0.24841, 20000: 0.23106,
    30000: 0.2243,
}  # fmt: skip


def order_for(strength):
    return 20 if strength < 500 else 36 if strength < 15e3 else 60


@pytest.mark.parametrize("fourier", [0.01, 0.1, 1.0, 10.0])
def test_without_a_bend_they_are_those_of_the_straight_tube(fourier):
    variance, third = reduced_cumulants(np.array([fourier]))
    found = cumulants(0.0, 0.0, fourier)
    assert found == pytest.approx((variance[0], third[0]), rel=1e-6)


@pytest.mark.parametrize("strength", RATIO_AND_SKEWNESS)
def test_any_length_is_that_of_the_table(strength):
    for length, (ratio, skewness) in zip(LENGTHS, RATIO_AND_SKEWNESS[strength], strict=True):
        variance, third = cumulants(0.0, float(strength), float(length))
        assert variance / (length / 24) == pytest.approx(ratio, rel=1e-4)
        assert third / variance**1.5 == pytest.approx(skewness, abs=6e-4)


@pytest.mark.parametrize("strength", LONG)
def test_long_tubes_are_those_of_the_table(strength):
    # what two lengths differ by is what a long tube adds to each length
    at = section(0.0, order_for(strength))
    rows = at_lengths(at, float(strength), np.array([10.0, 20.0]))
    assert (rows[1, 0] - rows[0, 0]) / 10 * 24 == pytest.approx(LONG[strength], rel=1e-3)


def test_a_slight_stirring_narrows_with_its_square():
    rows = at_lengths(section(0.0, 14), 5.0, np.array([10.0, 20.0]))
    lost = 1 - (rows[1, 0] - rows[0, 0]) / 10 * 24
    assert lost / 5.0**2 == pytest.approx(2.346e-6, rel=1e-3)


def test_a_low_schmidt_number_widens_as_erdogan_and_chatwin_found():
    # J. Fluid Mech. 29 (1967) 465: at one pressure gradient a slight bend adds to dispersion where
    # Sc < 0.124, by the axial flow that it distorts, and lessens it elsewhere. At one flow rate,
    # which is what ratios are taken at otherwise, the flow of the bent tube is not slower for it.
    dean = 2.0

    def change(schmidt):
        rows = at_lengths(section(dean, 14), dean**2 * schmidt, np.array([10.0, 20.0]))
        return (rows[1, 0] - rows[0, 0]) / 10 * 24 / dean_flow(dean).friction ** 2 - 1

    low, high = change(0.11), change(0.14)
    assert low > 0 > high
    # linear in Sc^2
    zero = (0.11**2 * high - 0.14**2 * low) / (high - low)
    assert np.sqrt(zero) == pytest.approx(0.1247, abs=5e-4)


def test_much_stirring_leaves_a_fifth_as_johnson_and_kamm_found():
    # J. Fluid Mech. 172 (1986) 329: about 0.2 of the straight tube
    rows = at_lengths(section(0.0, 68), 1e5, np.array([10.0, 20.0]))
    assert (rows[1, 0] - rows[0, 0]) / 10 * 24 == pytest.approx(0.2127, rel=5e-3)


def walked(strength, length, walkers, step, seed):
    """Mean and variance of arrival times of walkers: no grid, no modes.

    Along x and y Euler-Maruyama in time over a^2/D, mirrored at the wall; along the tube each walks
    with the mean of the velocities before and after. Walkers start as the flow enters, count one
    each, and cross the end between two steps.
    """
    random = np.random.default_rng(seed)
    # uniform in the stream: radius after the flow 2 r^2 - r^4
    r = np.sqrt(1 - np.sqrt(1 - random.random(walkers)))
    angle = 2 * np.pi * random.random(walkers)
    x, y = r * np.cos(angle), r * np.sin(angle)
    along, arrived = np.zeros(walkers), np.full(walkers, np.nan)
    time, active = 0.0, np.arange(walkers)
    scale = 4 * strength / 1152

    def velocity(x, y):
        s = x * x + y * y
        # psi = g(s) y, g = (1 - s)^2 (4 - s): u_x = g + 2 y^2 g', u_y = -2 x y g'
        g = (1 - s) ** 2 * (4 - s)
        slope = -2 * (1 - s) * (4 - s) - (1 - s) ** 2
        return scale * (g + 2 * y * y * slope), -scale * 2 * x * y * slope

    while active.size:
        fast = 2 * (1 - x * x - y * y)
        ux, uy = velocity(x, y)
        dx, dy = np.sqrt(2 * step) * random.standard_normal((2, active.size))
        px, py = x + ux * step + dx, y + uy * step + dy
        # the second half of the drift where it arrives (Heun)
        vx, vy = velocity(*inside(px, py))
        x, y = inside(x + (ux + vx) / 2 * step + dx, y + (uy + vy) / 2 * step + dy)
        before = along
        along = before + (fast + 2 * (1 - x * x - y * y)) / 2 * step
        done = along >= length
        part = (length - before[done]) / (along[done] - before[done])
        arrived[active[done]] = time + part * step
        time += step
        active, x, y, along = active[~done], x[~done], y[~done], along[~done]
    return arrived


def inside(x, y):
    r = np.hypot(x, y)
    back = np.where(r > 1, np.maximum(2 - r, 0.0) / np.maximum(r, 1e-9), 1.0)
    return x * back, y * back


@pytest.mark.parametrize(("strength", "length"), [(1000.0, 0.3), (3000.0, 0.1), (10000.0, 0.1)])
def test_random_walkers_arrive_with_this_variance(strength, length):
    # three times the statistical error of 20,000 walkers, 1.2 %, and that of their steps
    arrived = walked(strength, length, 20_000, 2e-4, seed=7)
    assert arrived.mean() == pytest.approx(length, rel=0.01)
    assert arrived.var() == pytest.approx(cumulants(0.0, strength, length)[0], rel=0.04)
