"""The widest tolerance of functions whose answer is known."""

import numpy as np
import pytest
from reference.instruments import limit, normal, samples_of
from reference.models import FunctionModel
from scipy import stats
from scipy.optimize import brentq

from tailrace.studies.tolerance import solve
from tailrace.studies.tolerance.judging import Demand
from tailrace.studies.tolerance.region import region
from tailrace.studies.tolerance.widening import Question, questions, widened


def _asked(weights):
    return Question(rule="alone", weights=np.array(weights))


def _nothing_seen(samples, model):
    return samples.values(), model(samples, "").values


def test_widest_tolerance_of_one_normal_input():
    # y = a + b, a ~ N(0, 1), b ~ N(0, 0.5), |y| <= 5: P = 2 Phi(5/sqrt(s^2 + 0.25)) - 1 = 0.95 at
    # s = sqrt((5/1.96)^2 - 0.25) = 2.501. With 500 samples and 95 % confidence less than that.
    samples = samples_of([normal("a", 0.0, 1.0), normal("b", 0.0, 0.5)], 2_000, seed=11)
    model = FunctionModel(lambda x: x.sum(axis=1, keepdims=True))
    demand = Demand(criteria=(limit(-5.0, 5.0),), required=0.95, confidence=0.95)
    found = widened(model, samples, _nothing_seen(samples, model), demand, _asked([1, 0]), 500, "w")
    truth = np.sqrt((5 / 1.959964) ** 2 - 0.25)
    assert 0.80 * truth <= found.scale <= truth
    assert found.scale < found.scale_refused <= found.scale * 1.05
    assert found.fresh.interval.high >= 0.95
    assert found.fresh.samples == 1_000
    assert found.inputs[0].limits.high == pytest.approx(3 * found.scale, rel=1e-3)


def test_widest_tolerance_keeps_its_confidence_over_many_studies():
    # The scale must not exceed the true one in more than about 5 % of the studies.
    model = FunctionModel(lambda x: x[:, :1] + x[:, 1:] ** 2)
    demand = Demand(criteria=(limit(at_most=4.0),), required=0.90, confidence=0.95)
    inputs = [normal("a", 0.0, 1.0), normal("b", 0.0, 0.5)]
    scales = []
    for seed in range(60):
        samples = samples_of(inputs, 300, seed)
        seen = _nothing_seen(samples, model)
        scales.append(widened(model, samples, seen, demand, _asked([1, 0]), 200, "w").scale)
    # The truth by quadrature over b: E[Phi((4 - b^2)/s)] = 0.90.
    nodes, weights = np.polynomial.hermite_e.hermegauss(60)
    weights = weights / weights.sum()

    def share(scale):
        return weights @ stats.norm.cdf((4 - (0.5 * nodes) ** 2) / scale)

    truth = brentq(lambda scale: share(scale) - 0.90, 0.5, 8)
    assert 0.7 * truth < np.median(scales) < truth
    # 60 studies at 5 %: more than 7 above would be a chance of 1 in 80 (binomial law).
    assert np.sum(np.array(scales) > truth) <= 7


def test_no_tolerance_of_one_input_is_enough_where_another_is_too_wide():
    samples = samples_of([normal("a", 0.0, 1.0), normal("b", 0.0, 3.0)], 500, seed=2)
    model = FunctionModel(lambda x: x.sum(axis=1, keepdims=True))
    demand = Demand(criteria=(limit(-3.0, 3.0),), required=0.95, confidence=0.95)
    found = widened(model, samples, _nothing_seen(samples, model), demand, _asked([1, 0]), 200, "w")
    assert found.scale == 0
    assert found.fresh is None


@pytest.mark.parametrize("weights", [[1, 0], [0, 1], [1, 1]])
def test_of_an_input_that_moves_nothing_nothing_is_said(weights):
    samples = samples_of([normal("a", 0.0, 1.0), normal("b", 0.0, 1.0)], 500, seed=2)
    model = FunctionModel(lambda x: np.stack([x[:, 1], 0 * x[:, 1]], axis=1))
    criteria = (limit(-4.0, 4.0), limit(-1.0, 1.0))
    demand = Demand(criteria=criteria, required=0.95, confidence=0.95)
    seen = _nothing_seen(samples, model)
    found = widened(model, samples, seen, demand, _asked(weights), 200, "w")
    assert found.inert == (weights == [1, 0])
    assert (found.scale == 0) == found.inert
    assert (found.tried == ()) == found.inert
    assert len(found.unmoved) == (2 if found.inert else 1)


def test_equal_influence_gives_each_input_the_same_share():
    class Plan:
        widen, shared = (), (0, 1)

    samples = samples_of([normal("a", 0.0, 1.0), normal("b", 0.0, 3.0)], 500, seed=2)
    model = FunctionModel(lambda x: x.sum(axis=1, keepdims=True))
    demand = Demand(criteria=(limit(-9.0, 9.0),), required=0.95, confidence=0.95)
    alike, equal = questions(Plan, samples, _nothing_seen(samples, model), demand)
    assert alike.weights.tolist() == [1.0, 1.0]
    # Each is to make half of 1 + 9: a deviation of sqrt(5).
    np.testing.assert_allclose(equal.weights * [1.0, 3.0], np.sqrt(5), rtol=0.05)


def test_a_map_can_show_a_probability_of_99_per_cent():
    # With 93 samples at a place, enough for 95 %, no place could ever be allowed.
    samples = samples_of([normal("a", 0.0, 1.0), normal("b", 0.0, 1.0)], 100, seed=2)
    model = FunctionModel(lambda x: x.sum(axis=1, keepdims=True))
    demand = Demand(criteria=(limit(-99.0, 99.0),), required=0.99, confidence=0.95)
    found = region(model, samples, (0, 1), demand, "m")
    assert (found.samples, set(found.allowed.flat)) == (473, {1})


def test_the_search_has_samples_enough_for_what_is_demanded(monkeypatch):
    # 500 kept out of 500 show 99.4 %: "no tolerance, however narrow" would be untrue of 99.9 %.
    monkeypatch.setattr(solve, "questions", lambda *asked: ["a alone"])
    monkeypatch.setattr(solve, "widened", lambda *asked: asked[5])
    samples = samples_of([normal("a", 0.0, 1.0)], 100, seed=2)
    model = FunctionModel(lambda x: x)
    for required, count in ((0.95, 500), (0.999, 4742)):
        demand = Demand(criteria=(limit(at_most=9.0),), required=required, confidence=0.95)
        answer = model(samples, "")
        assert solve._widenings(None, model, samples, answer, demand) == (count,)
