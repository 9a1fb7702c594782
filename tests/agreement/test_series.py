"""RSD of retention and area over injections, against closed forms.

Retention goes as one over the flow, the area of a recorded concentration as volume over flow; the
variance of n normal values is chi-squared with n - 1 degrees of freedom over its expectation.
"""

import numpy as np
import pytest
from reference.tolerances import SCENARIO
from scipy.stats import chi2

import tailrace
from tailrace.errors import ScenarioError
from tailrace.records.provenance import provenance_of
from tailrace.records.record import as_result, tree_of
from tailrace.report.tolerance.printed import as_text
from tailrace.scenario.inputs import inputs_of
from tailrace.scenario.target import StudyError
from tailrace.studies.runner import Runner
from tailrace.studies.samples import sampled
from tailrace.studies.tolerance import answer, plan
from tailrace.studies.tolerance.models import JourneyModel
from tailrace.studies.tolerance.series import STEP, changes, judged_series, own_limits, series_range

PLUG = SCENARIO.replace('shape = "gaussian"\nsigma = "0.3 s"', 'shape = "plug"\nvolume = "1 uL"')
FLOW, VOLUME, READ = 0.002, 0.005, 0.003
VARIED = f"""
[[uncertain]]
field = "method.flow"
distribution = "normal"
relative = 0.01

[[uncertain]]
field = "method.flow"
distribution = "normal"
relative = {FLOW}
kind = "injection"

[[uncertain]]
field = "injection.volume"
distribution = "normal"
relative = {VOLUME}
kind = "injection"

[[reading]]
measure = "area"
relative = {READ}
"""
ASKED = """
[[accept]]
measure = "RSD of retention time"
solute = "one"
at_most = "0.25 %"
injections = 5

[[accept]]
measure = "RSD of area"
at_most = "0.5 %"
"""


def loaded(folder, *rows, text=PLUG):
    file = folder / "series.toml"
    file.write_text("".join([text, *rows]))
    return tailrace.load(file)


def test_it_is_that_of_its_parts_and_a_series_is_chi_squared(tmp_path):
    rows = VARIED.replace("injection.volume", "filter.volume")
    asked = plan(loaded(tmp_path, rows, ASKED, text=SCENARIO), samples=400, seed=2)
    samples = sampled(asked.scenario, 400, 2)
    assert samples.kinds == ("tolerance",)
    found = JourneyModel(asked.scenario, asked.criteria, Runner())(samples, "some")
    times, areas = found.values
    # the filter's 3 uL of about 350 move the apex by next to nothing
    np.testing.assert_allclose(times, FLOW, rtol=0.01)
    np.testing.assert_allclose(areas, np.hypot(FLOW, READ), rtol=0.01)
    states = asked.demand.states(found.values, found.errors)
    shares = []
    for one, row, values in zip(asked.criteria, states, found.values, strict=True):
        free = one.injections - 1
        shares.append(chi2.cdf(free * (one.at_most / values.mean()) ** 2, free))
        assert np.mean(row == 1) == pytest.approx(shares[-1], abs=0.07)
        assert 0.5 < shares[-1] < 0.99
    whole = asked.demand.acceptance(found.values, found.errors).probability
    assert whole == pytest.approx(np.prod(shares), abs=0.08)


def test_area_goes_as_volume_over_flow(tmp_path):
    scenario = loaded(tmp_path, VARIED, ASKED)
    flow, volume = inputs_of(scenario, injections=True)
    same = {f"recorded/{name}": np.ones((3, 2)) for name in ("apex", "area")}
    own = np.array([0.9, 1.0, 1.1])
    sizes = [
        changes(one, own * one.nominal * (1 + STEP * rsd), same, same)["area"]
        for one, rsd in ((flow, FLOW), (volume, VOLUME))
    ]
    np.testing.assert_allclose(sizes[0], -FLOW, rtol=1e-3)
    np.testing.assert_allclose(sizes[1], VOLUME, rtol=1e-3)


def test_the_study_says_what_it_is(tmp_path):
    rows = VARIED.replace("injection.volume", "column.plates")
    found = answer(plan(loaded(tmp_path, rows, ASKED, text=SCENARIO), samples=40, seed=2))
    assert [one.kind for one in found.inputs] == ["tolerance"]
    assert [one.name for one in found.varied] == ["method.flow", "column.plates"]
    assert [one.injections for one in found.outcomes] == [5, 6]
    assert found.outcomes[1].nominal == pytest.approx(np.hypot(FLOW, READ), rel=0.01)
    assert found.outcomes[1].spread.standard_uncertainty == 0.0  # not what rounding leaves
    text = as_text(found)
    assert "RSD of retention time of one" in " ".join(text.split())
    assert "one series on each. Of 5 injections 95 % of series show 0.348 to 1.67" in " ".join(
        text.split()
    )
    assert as_result(tree_of(found, provenance_of(found.source, {}))).varied == found.varied


def test_a_series_spreads_as_chi_squared_says(tmp_path):
    one = plan(loaded(tmp_path, VARIED, ASKED), samples=10).criteria[0]
    drawn = judged_series(one, np.full(200_000, 0.01), 1)
    assert np.mean(drawn**2) == pytest.approx(1e-4, rel=0.01)
    # five injections: standard deviation within 0.348 to 1.669 times in 95 % of series (tables of
    # chi-squared, 4 degrees of freedom: 0.484 and 11.143)
    assert series_range(5) == pytest.approx((0.348, 1.669), abs=5e-4)
    assert np.quantile(drawn, [0.025, 0.975]) == pytest.approx([0.00348, 0.01669], rel=0.01)


def test_own_limits_hold_what_they_say():
    # t tables: 2.571 with 5 degrees of freedom
    assert own_limits(6, 0.95) == pytest.approx(2.571 * np.sqrt(7 / 6), abs=1e-3)
    drawn = np.random.default_rng(5).standard_normal((20_000, 7))
    first = drawn[:, :6]
    off = np.abs(drawn[:, 6] - first.mean(axis=1)) / first.std(axis=1, ddof=1)
    assert np.mean(off <= own_limits(6, 0.95)) == pytest.approx(0.95, abs=0.006)


@pytest.mark.parametrize(
    ("rows", "text"),
    [
        ((ASKED,), "what varies from one injection to the next, found nothing"),
        ((VARIED, '\n[[accept]]\nmeasure = "plates"\nat_least = 1\ninjections = 3\n'), "an RSD"),
        ((VARIED, ASKED.replace('"0.5 %"', "0.8")), "a relative standard deviation with a unit"),
    ],
)
def test_what_cannot_be_judged_is_refused(tmp_path, rows, text):
    with pytest.raises(ScenarioError, match=text):
        loaded(tmp_path, *rows)


def test_retention_that_does_not_follow_is_refused(tmp_path):
    warm = VARIED.replace(f"relative = {FLOW}", 'standard_deviation = "0.1 K"').replace(
        'field = "method.flow"\ndistribution = "normal"\nstandard',
        'field = "method.temperature"\ndistribution = "normal"\nstandard',
    )
    with pytest.raises(StudyError, match="retention_change"):
        plan(loaded(tmp_path, warm, ASKED), samples=10)
