"""How long instruments keep what is asked as they drift: one straight drift, in closed form."""

import numpy as np
import pytest
from reference.instruments import limit, normal, samples_of
from reference.models import FunctionModel
from reference.tolerances import ACCEPT, SCENARIO, UNCERTAIN
from scipy.optimize import brentq
from scipy.stats import norm

import tailrace
from tailrace.errors import ScenarioError
from tailrace.scenario.drift import Drift, drifts_of
from tailrace.scenario.drift_table import RetestTable
from tailrace.scenario.examples import folder
from tailrace.studies.runner import Runner
from tailrace.studies.samples import sampled
from tailrace.studies.tolerance import models, plan
from tailrace.studies.tolerance.drifting import MOMENTS, drifted, drifting
from tailrace.studies.tolerance.judging import Demand
from tailrace.studies.tolerance.series import NO_BAND, moved
from tailrace.studies.tolerance.solve import journeys

COUNT = 20_000
DEMAND = Demand(criteria=(limit(at_least=10.0),), required=0.95, confidence=0.95)


def drift(rate, deviation):
    one = normal("x", 0.0, deviation)
    return Drift(input=one, where=("method", "", "x"), rate=rate)


def found(mean, wide, rate, deviation=0.0, count=COUNT, seed=1, months=24.0):
    samples = samples_of([normal("x", mean, wide)], count, seed)
    model = FunctionModel(lambda values: values[:, :1])
    retest = RetestTable(risk=0.05, months=months)
    return drifting(model, samples, model(samples, ""), DEMAND, [drift(rate, deviation)], retest)


def test_of_those_that_are_kept_at_the_start():
    mean, wide, rate = 12.0, 1.0, -0.05
    got = found(mean, wide, rate)
    below = norm.cdf(10.0, mean, wide)
    share = (norm.cdf(10.0, mean + rate * got.times, wide) - below) / (1 - below)
    assert got.kept / got.instruments == pytest.approx(1 - below, abs=0.005)
    np.testing.assert_allclose(got.fallen, share, atol=4 * np.sqrt(0.25 / COUNT))
    when = brentq(
        lambda t: (norm.cdf(10.0, mean + rate * t, wide) - below) / (1 - below) - 0.05, 0, 24
    )
    assert got.interval_error.low < when < got.interval_error.high
    assert got.assured < got.interval
    assert got.first == pytest.approx([got.fallen[-1]])


def test_with_rates_that_differ():
    mean, wide, rate, deviation = 16.0, 1.0, -0.3, 0.09
    got = found(mean, wide, rate, deviation)
    at = got.times
    share = norm.cdf((10.0 - mean - rate * at) / np.hypot(wide, deviation * at))
    np.testing.assert_allclose(got.fallen, share, atol=0.015)


def test_what_is_assured_holds_as_often_as_it_says():
    # 200 studies of 400 instruments: one in twenty may promise too much
    mean, wide, rate = 16.0, 1.0, -0.3
    exact = (mean - 10.0 - wide * norm.ppf(0.95)) / -rate
    longer = sum(found(mean, wide, rate, count=400, seed=at).assured > exact for at in range(200))
    assert longer <= 20
    assert found(mean, wide, rate, count=20).assured == 0.0
    assert np.isinf(found(mean, wide, 0.001).assured)


ROW = '\n[[drift]]\nfield = "cell.volume"\nrelative = 0.02\nuncertainty = 0.3\n'


def written(folder, rows, text=SCENARIO + UNCERTAIN + ACCEPT):
    file = folder / "drift.toml"
    file.write_text(text + rows)
    return tailrace.load(file)


def test_a_row_is_read(tmp_path):
    rows = ROW.replace("relative = 0.02", 'change = "-0.08 uL"\nper = "1000 injections"')
    scenario = written(tmp_path, rows + "[retest]\ninjections_per_month = 500\n")
    (one,) = drifts_of(scenario)
    assert one.rate == pytest.approx(-0.04e-9)
    assert one.input.distribution.deviation == pytest.approx(0.012e-9)
    assert plan(scenario, samples=10).scenario is scenario


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (ROW + ROW, "each field once"),
        (ROW.replace("0.02", '0.02\nchange = "1 uL"'), "change or relative, found both"),
        (ROW.replace("relative = 0.02", ""), "found neither"),
        (ROW.replace("relative = 0.02", 'change = "1 mm"'), "uL"),
        (ROW + 'per = "1000 injections"\n', "injections_per_month = 400"),
        (ROW.replace("cell.volume", "cell.length"), "found none at"),
    ],
)
def test_a_drift_that_says_nothing_is_refused(tmp_path, rows, said):
    with pytest.raises(ScenarioError, match=said):
        written(tmp_path, rows)
    if rows == ROW + ROW:
        with pytest.raises(ScenarioError, match="no \\[\\[accept"):
            written(tmp_path, ROW, SCENARIO + UNCERTAIN)


def test_noise_that_drifts_leaves_injections_as_they_spread(monkeypatch):
    """The spread within each instrument is found once, and is what it would be at each moment."""
    scenario = tailrace.load(folder() / "tolerance" / "series-and-lamp.toml")
    asked = plan(scenario, samples=10)
    assert journeys(asked)["drift"] == 10 * MOMENTS
    first, (one,) = sampled(scenario, 2, 1), drifts_of(scenario)
    later = drifted(first, [one], np.zeros((2, 1)), 9.0)
    steps, answers = [], []
    monkeypatch.setattr(models, "moved", lambda *given: steps.append(given) or moved(*given))
    for places in (NO_BAND, ()):
        monkeypatch.setattr(models, "NO_BAND", places)
        model = models.JourneyModel(scenario, asked.criteria, Runner())
        answers.append([model(one, name).values for one, name in ((first, "a"), (later, "b"))])
        steps.append("|")
    assert steps.index("|") == 3 and len(steps) == 3 + 1 + 6 + 1
    np.testing.assert_array_equal(*answers)
    assert not np.array_equal(answers[0][0], answers[0][1])
