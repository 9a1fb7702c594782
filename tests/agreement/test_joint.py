"""A joint with an unswept pocket against its transfer function."""

import mpmath
import numpy as np
import pytest
from reference import transfer
from reference.journeys import FLOW, bands_behind, gaussian, relative_l2, stream

from tailrace.measures import moments
from tailrace.parts.fitting.part import Fitting
from tailrace.parts.fitting.theory import theory

SIGMA = 0.05
# residence s, unswept share, time in which the pocket fills s
JOINTS = [(0.1, 0.3, 1.0), (0.4, 0.5, 0.1), (0.05, 0.2, 4.0), (0.2, 0.8, 2.0)]


def joint(residence, unswept, filling):
    """A joint and its stream with these times: depth^2/D is the time in which a pocket fills."""
    bore = 1e-3
    length = 4 * residence * FLOW / (np.pi * bore**2)
    part = Fitting(name="joint", gap_bore=bore, gap_length=length, unswept=unswept, exchange=0.0)
    return part, stream(float(part.pocket_depth) ** 2 / filling)


def test_depth_of_the_pocket_by_geometry():
    # three quarters of the section lie outside half the radius
    part = Fitting(name="joint", gap_bore=1e-3, gap_length=1e-3, unswept=0.75)
    assert part.pocket_depth == pytest.approx(0.25e-3, rel=1e-12)


@pytest.mark.parametrize(("residence", "unswept", "filling"), JOINTS)
def test_cumulants_by_differentiating_the_transfer_function(residence, unswept, filling):
    text = theory(*joint(residence, unswept, filling))
    core, pocket = residence * (1 - unswept), residence * unswept
    with mpmath.workdps(50):

        def logarithm(s):
            # tanh(q)/q as the ratio of two series in q^2, so that it exists at zero
            q = s * filling
            sinh = mpmath.nsum(lambda n: q**n / mpmath.factorial(2 * n + 1), [0, 12])
            cosh = mpmath.nsum(lambda n: q**n / mpmath.factorial(2 * n), [0, 12])
            return -mpmath.log(1 + s * core + s * pocket * sinh / cosh)

        coefficients = mpmath.taylor(logarithm, 0, 3)
    assert text.mean == pytest.approx(float(-coefficients[1]), rel=1e-9)
    assert text.variance == pytest.approx(float(2 * coefficients[2]), rel=1e-9)
    assert text.third == pytest.approx(float(-6 * coefficients[3]), rel=1e-9)


@pytest.mark.parametrize(("residence", "unswept", "filling"), JOINTS)
def test_curve(residence, unswept, filling):
    part, passing = joint(residence, unswept, filling)
    band = bands_behind((gaussian(SIGMA), passing), (part, passing))[-1]
    times = band.times[0]

    def chain(omega):
        core, pocket = residence * (1 - unswept), residence * unswept
        return transfer.gaussian(omega, SIGMA) * transfer.joint(omega, core, pocket, filling)

    highest, window = 140.0, times[-1] - times[0] + 1.0
    expected = transfer.back_to_time(chain, times, highest, int(highest * window / (2 * np.pi)) + 1)
    assert relative_l2(band.values[0], expected) < 1e-4


def test_a_shallow_pocket_is_a_stirred_volume():
    part, passing = joint(0.2, 0.3, 1e-4)
    whole = Fitting(name="whole", gap_bore=part.gap_bore, gap_length=part.gap_length)
    found, mixed = (
        bands_behind((gaussian(SIGMA), passing), (one, passing))[-1] for one in (part, whole)
    )
    assert moments(found).variance == pytest.approx(moments(mixed).variance, rel=1e-3)
