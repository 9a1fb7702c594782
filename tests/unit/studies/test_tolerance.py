"""A tolerance study of full journeys: every part of the answer, repeatable and resumable."""

import numpy as np
import pytest
from reference.checkpoints import Shelves
from reference.tolerances import ACCEPT, FEW, UNCERTAIN, loaded

from tailrace.studies.runner import Runner
from tailrace.studies.tolerance import answer, plan, solve


@pytest.fixture(scope="module")
def scenario(tmp_path_factory):
    return loaded(tmp_path_factory.mktemp("tolerance"), UNCERTAIN, ACCEPT)


@pytest.fixture(scope="module")
def few():
    with pytest.MonkeyPatch.context() as patch:
        for (module, name), value in FEW.items():
            patch.setattr(module, name, value)
        yield


def asked(scenario):
    return plan(
        scenario,
        samples=80,
        seed=5,
        indices=4,
        widen=["cell.volume"],
        together=True,
        maps=[("filter.volume", "cell.volume")],
    )


@pytest.fixture(scope="module")
def study(scenario, few):
    shelves = Shelves()
    return answer(asked(scenario), Runner(checkpoint=shelves)), shelves


def test_first_order_with_derivatives_is_what_samples_say(study):
    plates, tailing = study[0].outcomes
    for one in (plates, tailing):
        assert one.linearised.value == pytest.approx(one.nominal, rel=5e-3)
        deviation = one.spread.standard_uncertainty
        assert one.linearised.standard_uncertainty == pytest.approx(deviation, rel=0.25)
    assert not plates.linearised.misleads


def test_outcomes_are_the_figures_of_the_samples(study, scenario):
    result, _ = study
    plates, tailing = result.outcomes
    assert plates.name == "plates of one"
    assert tailing.name == "tailing, worst solute"
    np.testing.assert_array_equal(
        plates.values, result.metrics["recorded/plates_half_height"][:, 0]
    )
    np.testing.assert_array_equal(tailing.values, result.metrics["recorded/tailing_5"].max(axis=1))
    assert plates.spread.mean == pytest.approx(plates.values.mean())
    assert plates.spread.standard_uncertainty == pytest.approx(plates.values.std(ddof=1))
    assert plates.acceptance.accepted == pytest.approx(np.sum(plates.values > 3000), abs=1)
    assert plates.acceptance.required == 0.8
    assert tailing.acceptance.confidence == 0.8
    # All together: the greatest probability and confidence of both.
    assert (result.acceptance.required, result.acceptance.confidence) == (0.8, 0.9)
    assert result.acceptance.accepted <= min(
        plates.acceptance.accepted, tailing.acceptance.accepted
    )
    assert [one.values.shape for one in result.inputs] == [(80,)] * 3


def test_nominal_is_the_scenario_as_it_stands(study, scenario):
    from tailrace.journey import travel

    alone = travel(scenario.itinerary())
    result, _ = study
    assert result.outcomes[0].nominal == pytest.approx(
        alone.recorded["plates_half_height"][0], rel=1e-9
    )


def test_kinds_are_told_apart(study):
    result, _ = study
    kinds = result.outcomes[0].by_kind
    assert list(kinds) == ["tolerance", "knowledge"]
    # Variances of what is independent add, to first order; 40 samples know each within a quarter.
    both = np.hypot(*(one.standard_uncertainty for one in kinds.values()))
    assert both == pytest.approx(result.outcomes[0].spread.standard_uncertainty, rel=0.35)


def test_first_order_says_where_it_misleads(study):
    result, _ = study
    plates, tailing = result.outcomes
    # By hand: the sum of variances of one: gaussian, two tanks, bed, at half a millilitre a minute.
    flow = 0.5e-6 / 60
    bed = np.pi / 4 * 0.0021**2 * 0.05 * 0.65 / flow * 3
    variance = 0.3**2 + (3e-9 / flow) ** 2 + (4e-9 / flow) ** 2 + bed**2 / 9000
    mean = bed + 7e-9 / flow
    # Each input stands at its mean there: that of the plates is 9000, but 1/N is not linear.
    assert plates.first_order.value == pytest.approx(mean**2 / variance, rel=1e-6)
    assert plates.first_order.misleads
    assert np.isnan(tailing.first_order.value)
    assert not tailing.first_order.misleads


def test_indices_have_a_row_for_each_outcome(study):
    result, _ = study
    assert result.indices.first.shape == result.indices.total_high.shape == (2, 3)
    assert result.indices.inputs == ("filter.volume", "cell.volume", "column.plates")
    assert np.all(result.indices.total_low <= result.indices.total_high)


def test_widenings(study):
    result, _ = study
    alone, alike, equal = result.widenings
    assert [one.name for one in alone.inputs] == ["cell.volume"]
    for one in result.widenings:
        assert one.scale < one.scale_refused
        passed = {found.scale: found.acceptance for found in one.tried}[one.scale]
        assert passed.satisfied
        assert not any(
            found.acceptance.satisfied for found in one.tried if found.scale >= one.scale_refused
        )
    assert alike.scale < alone.scale
    assert [one.rule for one in result.widenings] == ["alone", "alike", "equal influence"]
    assert equal.governing == "tailing, worst solute"


def test_map(study):
    result, _ = study
    (one,) = result.maps
    assert one.names == ("filter.volume", "cell.volume")
    assert one.accepted.shape == (3, 3)
    assert one.first[0] == pytest.approx(1.8e-9)
    # More volume never helps.
    assert np.all(np.diff(one.accepted, axis=0) <= 0)
    assert np.all(np.diff(one.accepted, axis=1) <= 0)
    assert one.allowed[0, 0] == 1
    assert one.allowed[-1, -1] == 0
    assert np.all(one.lower <= one.upper)


def test_qualification(study):
    result, _ = study
    plates, tailing, union, time = result.checks
    assert plates.at_least == 3000
    # repeats of 9000, 9100, 9200: 100, known with two degrees of freedom (t tables: 2.920)
    assert plates.measurement == pytest.approx(100)
    assert plates.guard == pytest.approx(292.0, rel=1e-3)
    assert plates.accept_at_least == pytest.approx(3000 + plates.guard)
    assert (union.what, union.how) == ("width of one", "union")
    assert union.unit == "s"
    # A union takes the column's broadening away.
    assert union.expected < 0.8 * 2.36 * np.sqrt(2) * 0.7
    assert union.measurement == 0
    assert union.rule == "simple"
    assert time.at_least < time.expected < time.at_most
    assert time.rule == "control limits"
    assert plates.consumer_risk_interval.low <= plates.consumer_risk <= 0.1
    assert plates.producer_risk <= plates.producer_risk_interval.high
    # nothing is said of how these are read: no risk of a wrong decision is known
    assert np.isnan([tailing.consumer_risk, union.producer_risk]).all()


def test_instruments_where_knowledge_is_least_favourable(study):
    result, _ = study
    found = result.population
    assert list(found.knowledge) == ["column.plates"]
    assert found.low <= found.median
    # the tailing is satisfied least, and of a better column it is greater
    assert found.knowledge["column.plates"] > 9000 * (1 + 0.03)


def test_the_answer_falls_as_the_model_may_lie_off(study):
    result, _ = study
    shares = [one.acceptance.probability for one in result.discrepancies]
    assert [one.size for one in result.discrepancies] == [0.0, 0.02, 0.05, 0.1]
    assert shares[0] == result.acceptance.probability
    assert shares[-1] < shares[0]


def test_the_simulation_is_linear_where_the_sum_misleads(study):
    result, _ = study
    plates, tailing = result.outcomes
    assert plates.first_order.misleads
    assert not plates.linearised.misleads
    assert plates.linearised.value == pytest.approx(plates.spread.mean, rel=0.02)
    assert tailing.linearised.standard_uncertainty == pytest.approx(
        tailing.spread.standard_uncertainty, rel=0.3
    )


def test_a_study_that_was_stopped_goes_on_to_the_same_bytes(study, scenario, few):
    result, shelves = study
    left = Shelves()
    names = list(shelves)
    for name in names[: len(names) // 2]:
        left[name] = dict(shelves[name])
    left[names[len(names) // 2]] = {0: shelves[names[len(names) // 2]][0]}
    again = answer(asked(scenario), Runner(checkpoint=left))
    assert left.written < shelves.written
    assert list(left) == names
    for name, values in result.metrics.items():
        assert values.tobytes() == again.metrics[name].tobytes(), name
    assert result.widenings == again.widenings
    assert result.checks == pytest.approx(again.checks) or str(result.checks) == str(again.checks)
    np.testing.assert_array_equal(result.indices.total_high, again.indices.total_high)


def test_the_journeys_are_counted_before_they_are_made(study, scenario, few):
    result, shelves = study
    foretold = solve.journeys(asked(scenario))
    made = {
        name.removesuffix("-products"): sum(len(block["computed"]) for block in blocks.values())
        for name, blocks in shelves.items()
        if not name.endswith("-sample")
    }
    # here a map has fewer places, with fewer samples each
    assert foretold["maps"] > made["map-00"]
    assert foretold["indices"] == made["indices"]
    assert foretold["the samples"] == made["samples-000"] == result.samples
    assert "steps" not in made  # of a linear path derivatives take their place
    assert foretold["linearisation"] > made["nominal"]
    assert foretold["knowledge"] == made["least-favourable"]
