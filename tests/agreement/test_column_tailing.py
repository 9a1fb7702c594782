"""A column that tails by itself, and one with fast and slow sites, against closed forms."""

import mpmath
import numpy as np
import pytest
from reference import transfer
from reference.journeys import FLOW, bands_behind, gaussian, relative_l2, stream

from tailrace.errors import PartError, ScenarioError
from tailrace.measures import measure, moments
from tailrace.measures.peaks import Setting
from tailrace.parts import KINDS
from tailrace.parts.column.part import Column
from tailrace.parts.column.tailing import tail_share
from tailrace.scenario.scenario import Scenario
from tailrace.signals.cubic import sample
from tailrace.studies.improving import improve

DEAD = 60.0


def column(**others):
    return Column(
        name="column",
        bore=np.sqrt(4 * DEAD * FLOW / (np.pi * 0.6 * 0.05)),
        length=0.05,
        particle_diameter=2e-6,
        porosity=0.6,
        **others,
    )


def peak(part, k=2.0):
    (band,) = bands_behind((part, stream(retention_factor=k)), refinement=2.0)
    return moments(band), measure(band, Setting(flow_rate=FLOW))


@pytest.mark.parametrize("plates", [400.0, 3000.0, 2e4])
@pytest.mark.parametrize("tailing", [1.1, 1.3, 1.8])
def test_the_column_alone_has_the_tailing_and_the_plates_that_are_given(tailing, plates):
    found, read = peak(column(plates=plates, column_tailing=tailing))
    assert read["tailing_5"][0] == pytest.approx(tailing, abs=1e-3)
    assert found.mean[0] == pytest.approx(3 * DEAD, rel=1e-6)
    # as a certificate has them, at half height; by the variance there are fewer
    shown = peak(column(plates=plates))[1]["plates_half_height"][0]
    assert read["plates_half_height"][0] == pytest.approx(shown, rel=1e-3)
    assert found.plates[0] < 0.98 * plates


def test_a_column_of_the_curve_shows_as_many_plates_at_half_height_however_it_tails():
    shown = [
        peak(column(**more))[1]["plates_half_height"][0] for more in ({}, {"column_tailing": 1.4})
    ]
    assert shown[1] == pytest.approx(shown[0], rel=1e-3)


def test_it_tails_alike_at_any_retention_and_flow():
    part = column(plates=9000.0, column_tailing=1.15)
    for k in (0.5, 8.0):
        assert peak(part, k)[1]["tailing_5"][0] == pytest.approx(1.15, abs=1e-3)


def test_cumulants_of_the_model():
    """An exponential of time constant a behind an inverse Gaussian: mean m + a, s + a^2, and third
    3 s^2 / m + 2 a^3, m and s those of the inverse Gaussian alone (textbook, from memory)."""
    part, passing = column(plates=900.0, column_tailing=1.4), stream(retention_factor=2.0)
    said, (found, _) = KINDS["column"].theory(part, passing), peak(part)
    tail = float(part.tail_time(passing))
    inner = 180.0**2 / float(part.plate_number(passing)) - tail**2
    assert said.third == pytest.approx(3 * inner**2 / (180 - tail) + 2 * tail**3, rel=1e-9)
    assert found.third[0] == pytest.approx(float(said.third), rel=1e-4)


def test_a_tail_below_that_of_the_plates_is_none():
    plain, tailed = (
        peak(column(plates=100.0, **more))[1] for more in ({}, {"column_tailing": 1.02})
    )
    assert tailed["tailing_5"] == pytest.approx(plain["tailing_5"], rel=1e-9)
    assert tail_share(np.array([1.0, np.nan]), 1e4) == pytest.approx(0.0)


# dead time s, k, share of slow sites, rate of fast and of slow ones 1/s, Peclet number
TWO_SITES = [
    (60.0, 2.0, 0.05, 50.0, 0.5, 2e4),
    (60.0, 5.0, 0.01, np.inf, 0.1, 8e3),
    (30.0, 2.0, 0.3, 5.0, 1.0, 1e4),
    (60.0, 2.0, 0.002, np.inf, 0.05, 1e4),
]


def exponent(s, numbers):
    """Logarithm of the transfer function, that of Lapidus and Amundson with two kinds of sites."""
    dead, k, share, fast, slow, peclet = numbers
    late = (1 - share) * k / (1 + s / fast) + share * k / (1 + s / slow)
    return peclet / 2 * (1 - (1 + 4 * dead * s / peclet * (1 + late)) ** 0.5)


def two_sites(numbers):
    dead, k, share, fast, slow, peclet = numbers
    retention = dead * (1 + k)
    exchange = 2 * dead * k * ((1 - share) / fast + share / slow)
    part = Column(
        name="column",
        bore=np.sqrt(4 * dead * FLOW / (np.pi * 0.6 * 0.05)),
        length=0.05,
        particle_diameter=2e-6,
        porosity=0.6,
        plates=retention**2 / (exchange + 2 * retention**2 / peclet),
        kinetics="two-site",
        mass_transfer_rate=np.nan if np.isinf(fast) else fast,
        slow_share=share,
        slow_rate=slow,
    )
    return part, stream(retention_factor=k)


@pytest.mark.parametrize("numbers", TWO_SITES)
def test_cumulants_of_two_sites_by_differentiating_the_transfer_function(numbers):
    said = KINDS["column"].theory(*two_sites(numbers))
    with mpmath.workdps(40):
        mean, variance, third = (
            float((-1) ** order * mpmath.diff(lambda s: exponent(s, numbers), 0, order))
            for order in (1, 2, 3)
        )
    assert said.mean == pytest.approx(mean, rel=1e-10)
    assert said.variance == pytest.approx(variance, rel=1e-9)
    assert said.third == pytest.approx(third, rel=1e-8)


@pytest.mark.parametrize("numbers", TWO_SITES)
def test_march_of_two_sites_against_its_cumulants(numbers):
    part, passing = two_sites(numbers)
    first, last = bands_behind((gaussian(1.0), passing), (part, passing))
    said, before, after = KINDS["column"].theory(part, passing), moments(first), moments(last)
    assert abs(after.area - before.area) < 1e-8
    assert after.mean - before.mean == pytest.approx(float(said.mean), rel=1e-5)
    assert after.variance - before.variance == pytest.approx(float(said.variance), rel=1e-3)
    assert after.third == pytest.approx(float(said.third), rel=0.02)


@pytest.mark.parametrize("numbers", TWO_SITES[:3])
def test_curve_of_two_sites_against_the_transfer_function(numbers):
    part, passing = two_sites(numbers)
    (*_, band) = bands_behind((gaussian(3.0), passing), (part, passing))
    end = 2.2 * numbers[0] * (1 + numbers[1])
    times = np.linspace(numbers[0], end, 600)
    expected = transfer.back_to_time(
        lambda omega: transfer.gaussian(omega, 3.0) * np.exp(exponent(1j * omega, numbers)),
        times,
        3.0,
        int(3.0 * 3 * end / (2 * np.pi)),
    )
    assert relative_l2(sample(band, times[None])[0], expected) < 5e-4


def test_the_transfer_functions_of_both():
    omega = np.linspace(0, 2, 40)[None]
    part, passing = two_sites(TWO_SITES[0])
    found = KINDS["column"].transfer(part, passing.over(1), omega)
    assert found[0] == pytest.approx(np.exp(exponent(1j * omega[0], TWO_SITES[0])), rel=1e-9)
    part, passing = column(plates=900.0, column_tailing=1.4), stream(retention_factor=2.0)
    tail = float(part.tail_time(passing))
    narrow = 180.0**2 / float(part.plate_number(passing)) - tail**2
    inner = transfer.column(omega[0], 180 - tail, (180 - tail) ** 2 / narrow)
    found = KINDS["column"].transfer(part, passing.over(1), omega)
    assert found[0] == pytest.approx(inner / (1 + 1j * omega[0] * tail), rel=1e-9)


def test_slow_sites_that_leave_fewer_plates_are_refused():
    part = column(plates=1e4, kinetics="two-site", slow_share=0.2, slow_rate=0.05)
    with pytest.raises(PartError, match=r"slow_rate alone leaves .* plates"):
        KINDS["column"].theory(part, stream(retention_factor=2.0))


SCENARIO = """
[method]
flow = "0.5 mL/min"
viscosity = "0.6 mPa*s"
[[solutes]]
name = "a"
retention_factor = 2.0
diffusivity = "1e-9 m^2/s"
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "50 mm"
particle_diameter = "2.7 um"
plates = 8000
"""


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ('column_tailing = 1.1\nkinetics = "lumped"', "leave out column_tailing or kinetics"),
        ("column_tailing = 0.9", "expected a number of 1 or more"),
        ('column_tailing = 1.1\ncapacity = "1 umol"', "found capacity too"),
        ('kinetics = "two-site"\nslow_share = 0.1', "expected slow_rate with two sites"),
        ('slow_rate = "1 s^-1"', 'expected kinetics = "two-site"'),
    ],
)
def test_what_does_not_go_together(more, said):
    with pytest.raises(ScenarioError) as caught:
        Scenario.from_text(SCENARIO + more)
    assert said in str(caught.value)


REST = """
[[path]]
name = "tube"
part = "tube"
bore = "0.17 mm"
length = "200 mm"
[numerics]
accuracy = 0.01
[[changes]]
name = "column that tails less"
set = { column = { column_tailing = 1.0 } }
"""


@pytest.mark.parametrize("aim", ["plates", "tailing"])
def test_less_tailing_is_never_worse(aim):
    scenario = Scenario.from_text(SCENARIO + "column_tailing = 1.3\n" + REST)
    found = improve(scenario, aim=aim)
    (change,) = found.changes
    assert change.alone > change.alone_error
    assert found.ceiling == pytest.approx(8000 if aim == "plates" else 1.3, rel=1e-3)


def test_what_is_assumed_is_said():
    tailed = Scenario.from_text(SCENARIO + "column_tailing = 1.1").assumptions()
    assert any("by an exponential behind the bed" in one for one in tailed)
    sites = 'kinetics = "two-site"\nslow_share = 0.02\nslow_rate = "20 s^-1"'
    assert any(
        "fast sites in equilibrium" in one
        for one in Scenario.from_text(SCENARIO + sites).assumptions()
    )
