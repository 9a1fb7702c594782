"""The column against the inverse Gaussian of scipy.stats and worked columns."""

import mpmath
import numpy as np
import pytest
from reference.journeys import FLOW, bands_behind, gaussian, relative_l2, stream
from scipy.stats import invgauss

from tailrace.measures import measure, moments
from tailrace.parts.column.part import Column
from tailrace.parts.column.theory import theory

MICROLITRE = 1e-9


def column(plates, porosity=0.6, bore=2.1e-3, length=0.05, **others):
    return Column(
        name="column",
        bore=bore,
        length=length,
        particle_diameter=2e-6,
        plates=plates,
        porosity=porosity,
        **others,
    )


def law(part, passing):
    """The inverse Gaussian of mean t and variance t^2/N: scipy's mu = 1/N, scale = t N."""
    plates, retention = float(part.plates), float(part.residence(passing))
    return invgauss(1 / plates, scale=retention * plates)


@pytest.mark.parametrize(
    ("plates", "retention_factor"), [(25.0, 0.0), (400.0, 2.0), (1e4, 5.0), (2e5, 1.0)]
)
def test_curve_and_moments_of_an_ideal_injection(plates, retention_factor):
    part, passing = column(plates), stream(retention_factor=retention_factor)
    (band,) = bands_behind((part, passing))
    density = law(part, passing)
    assert relative_l2(band.values[0], density.pdf(band.times[0])) < 1e-4
    found = moments(band)
    mean, variance, skewness = density.stats("mvs")
    assert found.area == pytest.approx(1.0, abs=1e-9)
    assert found.mean == pytest.approx(mean, rel=1e-9)
    assert found.variance == pytest.approx(variance, rel=1e-6)
    assert found.skewness == pytest.approx(float(skewness), rel=1e-5)


# t0 s, k, Peclet number: first three cumulants, from the transfer function of Lapidus and Amundson,
# J. Phys. Chem. 56 (1952) 984 with no slow mass transfer, differentiated below
LAPIDUS_AMUNDSON = [(60.0, 2.0, 1e4), (60.0, 5.0, 4e3), (30.0, 0.0, 50.0)]


@pytest.mark.parametrize(("dead_time", "k", "peclet"), LAPIDUS_AMUNDSON)
def test_cumulants_by_differentiating_the_transfer_function(dead_time, k, peclet):
    volume = dead_time * FLOW
    part = column(peclet / 2, porosity=0.6, bore=np.sqrt(4 * volume / (np.pi * 0.6 * 0.05)))
    text = theory(part, stream(retention_factor=k))
    with mpmath.workdps(40):

        def logarithm(s):
            return peclet / 2 * (1 - mpmath.sqrt(1 + 4 * dead_time * s * (1 + k) / peclet))

        first, second, third = (
            float((-1) ** order * mpmath.diff(logarithm, 0, order)) for order in (1, 2, 3)
        )
    assert text.mean == pytest.approx(first, rel=1e-10)
    assert text.variance == pytest.approx(second, rel=1e-10)
    assert text.third == pytest.approx(third, rel=1e-9)


# length mm, bore mm, total porosity: dead volume uL, and volume variance uL^2 at k = 2, N = 10^4
# (pi d^2/4 L e, and (V0 (1 + k))^2 / N: geometry)
COLUMNS = [
    (150, 4.6, 0.65, 1620.355, 2362.995),
    (100, 2.1, 0.55, 190.4983, 32.66065),
    (50, 2.1, 0.60, 103.9082, 9.717218),
    (50, 1.0, 0.60, 23.56194, 0.499649),
]


@pytest.mark.parametrize(("length", "bore", "porosity", "volume", "variance"), COLUMNS)
def test_dead_volumes_and_volume_variances(length, bore, porosity, volume, variance):
    part = column(1e4, porosity, bore=bore * 1e-3, length=length * 1e-3)
    passing = stream(retention_factor=2.0)
    assert part.volume / MICROLITRE == pytest.approx(volume, rel=1e-6)
    text = theory(part, passing).variance * FLOW**2 / MICROLITRE**2
    assert text == pytest.approx(variance, rel=1e-5)


def test_extra_volume_takes_plates_as_variances_add():
    # N / N_column = s_column^2 / (s_column^2 + s_extra^2), taken by moments
    # (Martin, Eon and Guiochon, J. Chromatogr. 108 (1975) 229; from memory)
    part, passing = column(1e3), stream(retention_factor=2.0)
    own = float(theory(part, passing).variance)
    (*_, band) = bands_behind((gaussian(np.sqrt(own / 9)), passing), (part, passing))
    kept = moments(band).mean ** 2 / moments(band).variance / 1e3
    assert kept == pytest.approx(0.9, rel=1e-6)
    # by half height the peak is the inverse Gaussian widened: nearly Gaussian, so nearly the same
    assert measure(band)["plates_half_height"] / 1e3 == pytest.approx(0.9, rel=0.01)
