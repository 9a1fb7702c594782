"""Shape of what leaves a tube after an injection without width, by Fourier number.

The table was inverted from the exact transfer function (``reference.transfer.tube``, 32 to 64
modes, the path of integration moved off the real axis so that the tail need not fit the window,
frequencies until the transfer function fell below 1e-9); halving the highest frequency changed no
figure by more than 1e-5, those at 10 and 5 % by 3e-4. Two rows are inverted anew below.
"""

from functools import cache

import numpy as np
import pytest
from reference import transfer
from reference.journeys import bands_behind, gaussian, tube_with
from reference.outline import Outline

from tailrace.measures import moments
from tailrace.signals import Band

NAMES = ("mode", "height", "W50", "W10", "b/a at 10 %", "W/2f at 5 %", "plates")
# X: times over the residence, plates by half height
SHAPES = {
    0.03: (0.514724, 3.517602, 0.144164, 0.569471, 43.5246, 44.0768, 70.6885),
    0.1: (0.537479, 2.758822, 0.164253, 1.155806, 35.9362, 23.1727, 59.3762),
    0.3: (0.579144, 1.501436, 0.709609, 1.219516, 18.6284, 10.4760, 3.69361),
    1.0: (0.960187, 1.970539, 0.487469, 0.852173, 1.337028, 1.214645, 21.51455),
    3.0: (0.987258, 3.394413, 0.278561, 0.501181, 1.170556, 1.099591, 69.65253),
    10.0: (0.996229, 6.185447, 0.152164, 0.276300, 1.087656, 1.050454, 237.6906),
}
# plates from moments, residence^2 over the exact variance (X/24 - 1/384 + ... in a^2/D, computed in
# 40 digits from the insulated Graetz problem)
BY_MOMENTS = {
    0.03: 2.638433,
    0.1: 4.468531,
    0.3: 9.047529,
    1.0: 25.60000,
    3.0: 73.53191,
    10.0: 241.5094,
}
SIGMA = 0.001
"""Width of the injection over the residence; its square is extrapolated away."""


def shape(band):
    outline = Outline(band)
    widths = outline.width(0.5), outline.width(0.1)
    feet = outline.asymmetry(0.1), outline.tailing(0.05)
    return np.array([outline.apex, outline.height, *widths, *feet, outline.plates()])


@cache
def behind(fourier, sigma):
    tube, passing = tube_with(fourier)
    refinement = 1.0 if fourier < 0.1 else 2.0
    return bands_behind((gaussian(sigma), passing), (tube, passing), refinement=refinement)[-1]


@pytest.mark.parametrize("fourier", SHAPES)
def test_shape(fourier):
    # a symmetrical injection of variance s^2 moves every figure by a multiple of s^2
    once, twice = (shape(behind(fourier, sigma)) for sigma in (SIGMA, 2 * SIGMA))
    found = dict(zip(NAMES, (4 * once - twice) / 3, strict=True))
    # at X = 0.03 the front half-width at 10 % is 0.013 of the residence, and not much above SIGMA
    feet = 2e-2 if fourier < 0.1 else 2e-3
    for name, true in zip(NAMES, SHAPES[fourier], strict=True):
        bar = feet if name.endswith("%") else 1e-3
        assert found[name] == pytest.approx(true, rel=bar), name


@pytest.mark.parametrize("fourier", BY_MOMENTS)
def test_plates_by_moments(fourier):
    found = moments(behind(fourier, SIGMA))
    plates = found.mean**2 / (found.variance - SIGMA**2)
    assert plates == pytest.approx(BY_MOMENTS[fourier], rel=5e-4)


def test_plates_by_half_height_mislead_for_short_tubes():
    # a sharp front and a long tail: far too many below X = 0.1, too few at 0.3
    ratio = {
        fourier: Outline(behind(fourier, SIGMA)).plates() / BY_MOMENTS[fourier]
        for fourier in SHAPES
    }
    assert ratio[0.03] > 20
    assert ratio[0.1] > 10
    assert ratio[0.3] < 0.5


@pytest.mark.parametrize(("fourier", "highest"), [(1.0, 600.0), (10.0, 200.0)])
def test_the_table_by_inverting_the_transfer_function_anew(fourier, highest):
    window, step = 6.0, 0.004
    times = np.arange(0.45, window / 2, step)
    values = transfer.back_to_time(
        lambda omega: transfer.tube(omega, fourier, 1.0, 32),
        times,
        highest,
        int(highest * window / (2 * np.pi)) + 1,
    )
    found = shape(Band(values[None], times[:1], np.array([step])))
    assert found == pytest.approx(SHAPES[fourier], rel=2e-5)
