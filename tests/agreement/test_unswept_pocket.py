"""A joint with a pocket, against closed form, Laplace inversion and measured unions."""

from dataclasses import replace

import mpmath
import numpy as np
import pytest
from reference.journeys import FLOW, bands_behind, gaussian, plug, stream

from tailrace.measures import moments
from tailrace.parts.fitting.march import exponentials
from tailrace.parts.fitting.part import Fitting
from tailrace.parts.fitting.theory import theory

POCKETS = [(1e-3, 3e-3, 60.0), (0.01, 0.01, 0.1), (1e-3, 5e-3, 1e-4), (5e-3, 1e-4, 5.0)]


@pytest.mark.parametrize(("core", "pocket", "filling"), POCKETS)
def test_exponentials_have_the_closed_form_moments(core, pocket, filling):
    rates, amounts = exponentials(*(np.array([time]) for time in (core, pocket, filling)))
    assert (amounts > 0).all()
    assert amounts.sum() == pytest.approx(1, rel=1e-12)
    first, second, third = (
        (amounts / rates**n).sum() * np.prod(range(1, n + 1)) for n in (1, 2, 3)
    )
    total = core + pocket
    assert first == pytest.approx(total, rel=1e-5)
    assert second - first**2 == pytest.approx(total**2 + 2 * pocket * filling / 3, rel=1e-8)
    assert third - 3 * first * second + 2 * first**3 == pytest.approx(
        2 * total**3 + 2 * total * pocket * filling + 0.8 * pocket * filling**2, rel=1e-8
    )


@pytest.mark.parametrize("time", [0.02, 0.1, 0.5])
def test_response_against_numerical_laplace_inversion(time):
    # Talbot's method, in mpmath, on 1 / (1 + s A + s B tanh(q)/q)
    core, pocket, filling = 0.02, 0.03, 0.4

    def image(s):
        q = mpmath.sqrt(s * filling)
        return 1 / (1 + s * core + s * pocket * mpmath.tanh(q) / q)

    rates, amounts = exponentials(*(np.array([t]) for t in (core, pocket, filling)))
    found = (amounts * rates * np.exp(-rates * time)).sum()
    assert found == pytest.approx(float(mpmath.invertlaplace(image, time)), rel=1e-6)


@pytest.mark.parametrize("exchange", [0.0, 5.0])
@pytest.mark.parametrize("unswept", [0.0, 0.1, 0.5, 0.9])
@pytest.mark.parametrize("injector", [plug(0.5), gaussian(0.1)], ids=["plug", "gaussian"])
def test_a_band_gains_the_closed_form_cumulants(exchange, unswept, injector):
    fitting = Fitting(
        name="joint", gap_bore=0.5e-3, gap_length=0.5e-3, unswept=unswept, exchange=exchange
    )
    passing = stream(1e-9)
    before, after = (moments(b) for b in bands_behind((injector, passing), (fitting, passing)))
    text = theory(fitting, passing.over(1))
    assert after.area == pytest.approx(before.area, abs=1e-7)
    assert after.mean - before.mean == pytest.approx(text.mean, rel=1e-5)
    assert after.variance - before.variance == pytest.approx(text.variance, rel=1e-4)
    assert after.third - before.third == pytest.approx(text.third, rel=1e-3)


def test_a_pocket_leaves_a_long_weak_tail():
    # common practice, no source: a joint not fully swept shows far out on the tail, not at the top
    passing = stream(1e-9)
    tails = []
    for unswept in (0.0, 0.5):
        fitting = Fitting(
            name="joint", gap_bore=1e-3, gap_length=0.2e-3, unswept=unswept, exchange=0.0
        )
        _, out = bands_behind((gaussian(0.5), passing), (fitting, passing))
        late = out.times[0] > 5.0
        tails.append(float(out.values[0][late].sum() * out.step[0]))
    pocket = 0.5 * np.pi / 4 * 1e-6 * 0.2e-3 / FLOW
    assert tails[0] < 1e-9
    assert 1e-4 < tails[1] < pocket


def added(fitting, passing):
    """Variance that a joint adds to a band, uL^2."""
    before, after = (moments(b) for b in bands_behind((gaussian(0.5), passing), (fitting, passing)))
    return float((after.variance - before.variance)[0] * FLOW**2 * 1e18)


def test_an_exchange_far_above_the_diffusion_is_that_of_a_stirred_pocket():
    # 1/(1 + s A + s B/(1 + s B/e)), from the balance of two stirred volumes: T^2 + 2 B^2/e
    part = Fitting(name="joint", gap_bore=1e-3, gap_length=1e-3, unswept=0.6, exchange=2.0)
    passing = stream(1e-14)
    total = float(part.volume) / FLOW
    expected = total**2 + 2 * (0.6 * total) ** 2 / 2.0
    assert theory(part, passing.over(1)).variance == pytest.approx(expected, rel=1e-4)


def test_diffusion_and_exchange_add_up():
    part = Fitting(name="joint", gap_bore=1e-3, gap_length=1e-3, unswept=0.6, exchange=2.0)
    passing = stream(1e-9)
    rates = [
        1 / np.asarray(replace(part, exchange=e).filling_time(replace(passing, diffusivity=d)))
        for e, d in ((2.0, 1e-9), (2.0, 1e-20), (0.0, 1e-9))
    ]
    assert rates[0] == pytest.approx(rates[1] + rates[2], rel=1e-9)


@pytest.mark.parametrize(("measured", "stirred"), [(1.464, 1.21), (0.113, 0.34)])
def test_measured_unions_as_stirred_volumes(measured, stirred):
    # R. P. W. Scott, Extra Column Dispersion (online textbook), table 3: a union of low dead
    # volume and one drilled out, uL^2; solute and geometry are not given
    bore = 0.5e-3
    length = stirred * 1e-9 / (np.pi / 4 * bore**2)
    whole = Fitting(name="union", gap_bore=bore, gap_length=length)
    assert added(whole, stream(1e-9)) == pytest.approx(measured, rel=0.03)
    # a pocket in it changes what volume that is by no more than a seventh
    part = replace(whole, unswept=0.9, gap_length=length / 1.15)
    assert measured < 1.05 * added(part, stream(1e-9)) < 1.1 * measured
