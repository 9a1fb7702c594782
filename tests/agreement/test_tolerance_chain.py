"""The closed-form chain through the code of the tolerance study: coverage, shares, first order."""

import numpy as np
import pytest
from reference.instruments import limit, normal, samples_of, uniform
from reference.models import FunctionModel

from tailrace.eluent.stream import Stream
from tailrace.parts import KINDS
from tailrace.parts.cell.part import Cell
from tailrace.parts.detector.part import Detector
from tailrace.parts.injector.part import Injector
from tailrace.parts.tube.part import Tube
from tailrace.studies.tolerance.first_order import STEP, first_order
from tailrace.studies.tolerance.judging import acceptance_of, states_of
from tailrace.studies.tolerance.sensitivity import sobol_indices
from tailrace.studies.tolerance.statistics import spread_of

FLOW, BORE, LENGTH, VOLUME, CONSTANT = 1e-8, 1.7e-4, 0.5, 4e-9, 0.2
REPEATS = 2_000


def chain(values):
    """Sum of the parts' long-tube variances for samples of bore, cell volume and time constant."""
    bore, volume, constant = values.T
    lanes = len(values)
    stream = Stream(flow_rate=FLOW, diffusivity=1e-9).over(lanes)
    parts = [
        Injector(shape="plug", volume=2e-9),
        Tube(name="tube", bore=bore, length=LENGTH),
        Cell(name="cell", volume=volume),
        Detector(time_constant=constant, interval=float("nan")),
    ]
    text = [KINDS[part.kind].theory(part, stream).gaussian_variance for part in parts]
    return np.sum([np.broadcast_to(one, (lanes,)) for one in text], axis=0)[:, None]


def by_hand(bore, volume, constant):
    """The same by hand: V^2/12 F^2, pi d^4 L/(384 D F), V^2/F^2, c^2."""
    tube = np.pi * bore**4 * LENGTH / (384 * 1e-9 * FLOW)
    return (2e-9 / FLOW) ** 2 / 12 + tube + (volume / FLOW) ** 2 + constant**2


INPUTS = [
    uniform("bore", BORE, 0.08 * BORE),
    normal("volume", VOLUME, 0.06 * VOLUME),
    uniform("constant", CONSTANT, 0.06),
]


def test_the_chain_is_that_of_the_text_books():
    # Taylor, Proc. R. Soc. A 219 (1953) 186, without the axial term; Sternberg 1966 for the rest.
    values = np.array([[BORE, VOLUME, CONSTANT], [1.5e-4, 3e-9, 0.1]])
    np.testing.assert_allclose(chain(values)[:, 0], by_hand(*values.T), rtol=1e-3)


@pytest.fixture(scope="module")
def truth():
    """Samples of another seed, sorted."""
    samples = samples_of(INPUTS, 400_000, seed=987_654)
    return np.sort(by_hand(*samples.values().T))


def test_coverage_of_the_chain(truth):
    # Not Gaussian: the bore counts in its fourth power. 2,000 studies of 500 samples.
    model = FunctionModel(lambda values: by_hand(*values.T)[:, None])
    symmetric, shortest, means = [], [], 0
    for seed in range(REPEATS):
        values = model(samples_of(INPUTS, 500, seed), "").values[0]
        spread = spread_of(values, np.zeros_like(values))
        for found, interval in ((symmetric, spread.symmetric), (shortest, spread.shortest)):
            ends = np.searchsorted(truth, [interval.low, interval.high]) / len(truth)
            found.append(ends[1] - ends[0])
        means += abs(spread.mean - truth.mean()) <= 1.96 * spread.mean_error
    assert 0.949 <= np.mean(symmetric) <= 0.96
    assert 0.9485 <= np.mean(shortest) <= 0.96
    assert 0.94 <= means / REPEATS <= 0.96


def test_shares_of_a_variance_budget():
    # Additive, so each index is Var(v_i) over the sum. Uniform on m(1 -+ h): E x^n by hand;
    # normal: Var(x^2) = 2 s^4 + 4 m^2 s^2.
    found = sobol_indices(FunctionModel(chain), samples_of(INPUTS, 1, seed=1), 512, ["variance"])

    def uniform_moment(middle, half, power):
        low, high = middle - half, middle + half
        return (high ** (power + 1) - low ** (power + 1)) / ((power + 1) * (high - low))

    h = 0.08 * BORE
    scale = np.pi * LENGTH / (384 * 1e-9 * FLOW)
    tube = scale**2 * (uniform_moment(BORE, h, 8) - uniform_moment(BORE, h, 4) ** 2)
    m, s = VOLUME / FLOW, 0.06 * VOLUME / FLOW
    cell = 2 * s**4 + 4 * m**2 * s**2
    electronics = uniform_moment(0.2, 0.06, 4) - uniform_moment(0.2, 0.06, 2) ** 2
    shares = np.array([tube, cell, electronics])
    shares /= shares.sum()
    assert shares.min() > 0.03
    for low, high in ((found.first_low, found.first_high), (found.total_low, found.total_high)):
        assert np.all((low[0] <= shares) & (shares <= high[0]))


def _first_order(inputs, function, criterion, samples):
    known = [one.distribution.mean_and_deviation(one.nominal, (-np.inf, np.inf)) for one in inputs]
    means, deviations = np.array(known).T
    steps = np.eye(len(inputs))[:, None] * np.array([-STEP, STEP])[None, :, None]
    ends = function((means + steps * deviations).reshape(-1, len(inputs)))
    values = function(samples.values())
    spread = spread_of(values, np.zeros_like(values))
    states = states_of(values, np.zeros_like(values), criterion.at_least, criterion.at_most)
    acceptance = acceptance_of(states, 0.95, 0.95)
    whole = np.concatenate([function(means[None]), ends])
    return first_order(
        whole, STEP, deviations, np.eye(len(inputs)), criterion, (spread, acceptance)
    )


def test_first_order_of_a_linear_figure_agrees():
    # JCGM 100:2008, equation (10): u^2 = sum c_i^2 u_i^2; exact for a linear figure.
    inputs = [normal("a", 1e6, 3e4), normal("b", 2e6, 4e4)]
    found = _first_order(
        inputs, lambda x: x.sum(axis=1), limit(at_most=3.1e6), samples_of(inputs, 20_000, 1)
    )
    assert found.standard_uncertainty == pytest.approx(5e4, rel=1e-3)
    np.testing.assert_allclose(found.sensitivities, 1.0, rtol=1e-3)
    np.testing.assert_allclose(found.contributions, [3e4, 4e4], rtol=1e-3)
    # Two standard uncertainties below the limit: Phi(2) = 0.97725.
    assert found.probability == pytest.approx(0.97725, abs=1e-3)
    assert not found.misleads


def test_first_order_of_a_square_about_zero_misleads():
    # The slope at the middle is 0, so first order sees no uncertainty at all.
    inputs = [normal("a", 0.0, 1.0)]
    found = _first_order(
        inputs, lambda x: 1e5 * x[:, 0] ** 2, limit(at_most=1e5), samples_of(inputs, 20_000, 1)
    )
    assert found.standard_uncertainty == pytest.approx(0.0, abs=1.0)
    assert found.misleads
    # P(x^2 < 1) = 0.683 against certainty.
    assert found.probability == 1.0
