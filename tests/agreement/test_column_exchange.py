"""Slow exchange in a column against published cumulants and the transfer function."""

import mpmath
import numpy as np
import pytest
from reference import transfer
from reference.journeys import FLOW, bands_behind, gaussian, relative_l2, stream

from tailrace.errors import BudgetError, PartError
from tailrace.measures import moments
from tailrace.parts.column.cells import march as cells
from tailrace.parts.column.part import Column
from tailrace.parts.column.theory import theory
from tailrace.signals.cubic import sample

SIGMA = 0.5


def exchanging(dead_time, k, rate, peclet):
    """A column with these numbers; its plates follow from them."""
    retention = dead_time * (1 + k)
    plates = retention**2 / (2 * dead_time * k / rate + 2 * retention**2 / peclet)
    part = Column(
        name="column",
        bore=np.sqrt(4 * dead_time * FLOW / (np.pi * 0.6 * 0.05)),
        length=0.05,
        particle_diameter=2e-6,
        porosity=0.6,
        plates=plates,
        kinetics="lumped",
        mass_transfer_rate=rate,
    )
    return part, stream(retention_factor=k)


def exponent(s, dead_time, k, rate, peclet):
    """Logarithm of the transfer function (Lapidus and Amundson, J. Phys. Chem. 56 (1952) 984)."""
    root = (1 + 4 * dead_time * s / peclet * (1 + k / (1 + s / rate))) ** 0.5
    return peclet / 2 * (1 - root)


# dead time s, k, rate 1/s, Peclet number: variance and third cumulant by differentiating the
# transfer function with 50 digits; the first with a Peclet number that leaves next to no dispersion
WORKED = [
    ((60, 2, 1, 1e9), 240.0, 720.0),
    ((60, 2, 1, 10000), 246.48, 746.61984),
    ((60, 5, 0.5, 4000), 1264.8, 7882.992),
]


@pytest.mark.parametrize(("numbers", "variance", "third"), WORKED)
def test_cumulants_of_worked_columns(numbers, variance, third):
    text = theory(*exchanging(*numbers))
    assert text.mean == pytest.approx(numbers[0] * (1 + numbers[1]), rel=1e-12)
    assert text.variance == pytest.approx(variance, rel=1e-6)
    assert text.third == pytest.approx(third, rel=1e-6)


@pytest.mark.parametrize("numbers", [(20, 3, 2.0, 300), (10, 0.5, 0.3, 5000)])
def test_cumulants_by_differentiating_the_transfer_function(numbers):
    text = theory(*exchanging(*numbers))
    with mpmath.workdps(40):
        second, third = (
            float((-1) ** order * mpmath.diff(lambda s: exponent(s, *numbers), 0, order))
            for order in (2, 3)
        )
    assert text.variance == pytest.approx(second, rel=1e-10)
    assert text.third == pytest.approx(third, rel=1e-9)


COLUMNS = [
    *(numbers for numbers, _, _ in WORKED),
    (60, 2, 30, 4e4),
    (60, 2, 100, 4e4),
    (60, 5, 10, 4e3),
    (60, 5, 0.1, 4e3),
    (30, 2, 1e5, 1e4),
]


@pytest.mark.parametrize("numbers", COLUMNS)
def test_march_against_the_cumulants(numbers):
    part, passing = exchanging(*numbers)
    first, last = bands_behind((gaussian(SIGMA), passing), (part, passing))
    text, before, after = theory(part, passing), moments(first), moments(last)
    assert abs(after.area - before.area) < 1e-8
    assert after.mean - before.mean == pytest.approx(float(text.mean), rel=1e-5)
    added = float((after.variance - before.variance)[0])
    assert added == pytest.approx(float(text.variance), rel=1e-3)
    third = float(after.skewness[0] * after.variance[0] ** 1.5)
    assert third / added**1.5 == pytest.approx(float(text.skewness), rel=0.02)


@pytest.mark.parametrize("numbers", [(60, 2, 1, 1e4), (60, 2, 30, 1e3), (60, 5, 0.5, 4e3)])
def test_curve_against_the_transfer_function(numbers):
    part, passing = exchanging(*numbers)
    (*_, band) = bands_behind((gaussian(3.0), passing), (part, passing))
    end = 2.2 * numbers[0] * (1 + numbers[1])
    times = np.linspace(numbers[0], end, 600)
    expected = transfer.back_to_time(
        lambda omega: transfer.gaussian(omega, 3.0) * np.exp(exponent(1j * omega, *numbers)),
        times,
        3.0,
        int(3.0 * 3 * end / (2 * np.pi)),
    )
    # a journey keeps about 12 samples per standard deviation: reading between them costs 3e-4
    assert relative_l2(sample(band, times[None])[0], expected) < 5e-4


def test_slow_exchange_makes_a_peak_tail_and_fast_exchange_does_not():
    # same plates, exchange of 2 and of 2000 per second
    skewness = [
        float(theory(*exchanging(60, 2, rate, peclet)).skewness)
        for rate, peclet in ((2.0, 1e6), (2e3, 450.0))
    ]
    part, passing = exchanging(60, 2, 2.0, 1e6)
    (band,) = bands_behind((part, passing))
    assert moments(band).skewness == pytest.approx(skewness[0], rel=0.02)
    assert skewness[0] > 0.13


def test_exchange_from_the_curve_takes_the_share_of_its_terms():
    part = Column(
        name="column",
        bore=2.1e-3,
        length=0.05,
        particle_diameter=5e-6,
        kinetics="lumped",
    )
    passing = stream(retention_factor=3.0)
    dispersion, exchange = part.heights(passing)
    variances = part.variances(passing)
    assert variances[1] / variances[0] == pytest.approx(float(exchange / dispersion), rel=1e-12)
    first, last = bands_behind((gaussian(SIGMA), passing), (part, passing))
    added = moments(last).variance - moments(first).variance
    assert added == pytest.approx(float(theory(part, passing).variance), rel=2e-3)


def test_lanes_do_not_know_of_each_other():
    (one, passing), (other, _) = exchanging(60, 2, 1, 1e4), exchanging(30, 2, 5, 1e3)
    both = Column(
        name="column",
        length=0.05,
        particle_diameter=2e-6,
        kinetics="lumped",
        **{
            name: np.array([getattr(one, name), getattr(other, name)])
            for name in ("bore", "porosity", "plates", "mass_transfer_rate")
        },
    )
    (first,) = bands_behind((gaussian(SIGMA), passing))
    from tailrace.signals import Band, Resolution

    two = Band(np.repeat(first.values, 2, axis=0), np.repeat(first.start, 2), first.step.repeat(2))
    together = cells.exchanging(both, passing.over(2), two, Resolution())
    for lane, part in enumerate((one, other)):
        alone = cells.exchanging(part, passing.over(1), first, Resolution())
        size = alone.values.shape[1]
        assert together.values[lane, :size] == pytest.approx(alone.values[0], rel=1e-12)
        assert together.start[lane] == alone.start[0]


def test_too_slow_an_exchange_for_the_plates_is_refused():
    part = Column(
        name="column",
        bore=2e-3,
        length=0.05,
        particle_diameter=2e-6,
        plates=1e4,
        kinetics="lumped",
        mass_transfer_rate=0.1,
    )
    with pytest.raises(PartError, match=r"column: mass_transfer_rate alone leaves .* plates"):
        theory(part, stream(retention_factor=2.0))


def test_too_many_steps_are_refused(monkeypatch):
    monkeypatch.setattr(cells, "MOST_STEPS", 100)
    part, passing = exchanging(60, 2, 1, 1e4)
    with pytest.raises(BudgetError, match=r"column: its march would take \d+ steps"):
        bands_behind((part, passing))
