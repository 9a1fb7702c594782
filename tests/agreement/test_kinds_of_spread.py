"""Readings, knowledge and the model's own discrepancy, each against its integral.

Risks: JCGM 106:2012, clause 9.5 (global risks of a normal population read with normal errors), as
the double integral that it states; from memory.
"""

import numpy as np
import pytest
from reference.instruments import limit, normal, samples_of
from reference.models import FunctionModel
from scipy.integrate import quad
from scipy.stats import norm, t

from tailrace.errors import ScenarioError
from tailrace.measures.registry import METRICS
from tailrace.scenario.criteria import Criterion
from tailrace.scenario.reading import Reading
from tailrace.scenario.scenario import Scenario
from tailrace.studies.tolerance.discrepancy import exponent
from tailrace.studies.tolerance.judging import Demand
from tailrace.studies.tolerance.population import population_of
from tailrace.studies.tolerance.qualification import Seen, direct

MANY = 400_000


@pytest.mark.parametrize("freedom", [np.inf, 4.0])
def test_guard_band_and_global_risks_are_those_of_jcgm_106(freedom):
    mean, wide, unsure, least = 10.0, 1.0, 0.3, 8.5
    random = np.random.default_rng(3)
    reading = Reading(measure="plates", deviation=unsure, freedom=freedom)
    seen = Seen(
        criterion=limit(at_least=least),
        nominal=mean,
        true=random.normal(mean, wide, MANY),
        reading=reading,
        scores=reading.errors(MANY, random),
    )
    found = direct(seen, Demand(criteria=(), required=0.95, confidence=0.95))
    law = norm() if np.isinf(freedom) else t(freedom)
    guard = law.ppf(0.95) * unsure
    assert found.guard == pytest.approx(guard, rel=1e-9)

    def share(passed, low, high):
        return quad(lambda at: norm.pdf(at, mean, wide) * passed(at), low, high)[0]

    wrong = share(lambda at: law.sf((least + guard - at) / unsure), -np.inf, least)
    right = share(lambda at: law.cdf((least + guard - at) / unsure), least, np.inf)
    assert found.consumer_risk == pytest.approx(wrong, abs=4 * np.sqrt(wrong / MANY))
    assert found.producer_risk == pytest.approx(right, abs=4 * np.sqrt(right / MANY))
    assert wrong < 0.05 * norm.cdf(least, mean, wide) * 1.01


def test_share_of_instruments_where_knowledge_is_least_favourable():
    inputs = [normal("differs", 0.0, 1.0), normal("unknown", 0.0, 0.5, kind="knowledge")]
    samples = samples_of(inputs, 4000, 1)

    model = FunctionModel(lambda values: values.sum(axis=1)[:, None])
    demand = Demand(criteria=(limit(at_most=2.0),), required=0.95, confidence=0.95)
    found = population_of(model, samples, model(samples, ""), demand, 4000)
    known = found.knowledge["unknown"]
    # one in twenty of what the second may be is worse, at most: one in fifty to one in twenty here
    assert 0.5 * norm.ppf(0.95) < known < 0.5 * norm.ppf(0.99)
    share = norm.cdf(2.0 - known)
    assert found.acceptance.interval.low <= share <= found.acceptance.interval.high
    assert found.median == pytest.approx(norm.cdf(2.0), abs=0.02)
    # all together it would be called more
    assert norm.cdf(2.0 / np.hypot(1, 0.5)) > share + 0.03
    alike = samples_of(inputs[:1], 100, 1)
    assert population_of(model, alike, model(alike, ""), demand, 100) is None


def test_what_differs_goes_with_what_is_known_as_correlated():
    inputs = [normal("differs", 0.0, 1.0), normal("unknown", 0.0, 1.0, kind="knowledge")]
    samples = samples_of(inputs, 4000, 1, correlation=[[1, 0.8], [0.8, 1]])
    model = FunctionModel(lambda values: values.sum(axis=1)[:, None])
    demand = Demand(criteria=(limit(at_most=2.5),), required=0.95, confidence=0.95)
    found = population_of(model, samples, model(samples, ""), demand, 4000)
    # given what is known: mean 0.8 of it, standard deviation 0.6
    share = norm.cdf((2.5 - 1.8 * found.knowledge["unknown"]) / 0.6)
    assert found.acceptance.interval.low <= share <= found.acceptance.interval.high


@pytest.mark.parametrize(
    ("name", "power"),
    [
        ("plates_half_height", 1.0),
        ("plates_moments", 1.0),
        ("width_half", -0.5),
        ("variance", -1.0),
        ("half_height", 0.5),
        ("peak_capacity", 0.5),
        ("variance_volume_extra_column", -1.0),
        ("tailing_5", 0.0),
        ("apex", 0.0),
    ],
)
def test_metrics_go_with_the_variance_as_a_gaussian_does(name, power):
    assert exponent(METRICS[name]) == pytest.approx(power, abs=0.02)


@pytest.mark.parametrize("size", [0.02, 0.05, 0.10])
def test_the_answer_with_a_discrepancy_is_its_integral(size):
    mean, wide, least = 11_812.0, 409.0, 11_000.0
    values = np.random.default_rng(4).normal(mean, wide, (1, 100_000))
    demand = Demand(
        criteria=(Criterion(measure="plates", at_least=least),),
        required=0.95,
        confidence=0.95,
        discrepancy=size,
    )
    found = demand.acceptance(values, np.zeros_like(values)).probability
    there = quad(
        lambda z: norm.pdf(z) * norm.sf(least / (1 + size * z), mean, wide), -6.0, 6.0, limit=200
    )[0]
    assert found == pytest.approx(there, abs=0.005)


SCENARIO = """
[method]
flow = "1 mL/min"
viscosity = "1 mPa*s"
[[solutes]]
name = "a"
diffusivity = "1e-9 m^2/s"
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "cell"
part = "cell"
volume = "2 uL"
[[reading]]
measure = "width"
"""


@pytest.mark.parametrize(
    ("more", "text"),
    [
        ("", "expected one of standard_deviation or relative or repeats or simulated, found none"),
        ("relative = 0.01\nstandard_deviation = 3", "found standard_deviation and relative"),
        ("standard_deviation = 3", "expected a deviation with a unit"),
        ('standard_deviation = "-3 ms"', "a spread above 0"),
        ('repeats = ["1 s", "1 s", "1 s"]', "3 readings or more that differ, found 3 alike"),
        ('repeats = ["1 s", "2 s"]', "found 2"),
        ('relative = 0.01\nsolute = "b"', "expected a known solute"),
    ],
)
def test_readings_that_say_nothing_are_refused(more, text):
    with pytest.raises(ScenarioError, match=text):
        Scenario.from_text(SCENARIO + more)


def test_an_older_word_for_what_is_not_known_still_holds():
    text = SCENARIO.partition("[[reading]]")[0] + (
        '[[uncertain]]\nfield = "cell.volume"\ndistribution = "normal"\nrelative = 0.1\n'
        'kind = "measurement"\n'
    )
    assert Scenario.from_text(text).document.uncertain[0].kind == "knowledge"
