"""What can be asked of a tolerance study, and how it goes on where samples fail."""

import numpy as np
import pytest
from reference.tolerances import ACCEPT, FEW, UNCERTAIN, loaded
from reference.tree import ROOT

import tailrace
from tailrace.errors import AccuracyError, BudgetError
from tailrace.measures.registry import METRICS, WIDTH
from tailrace.report.tolerance.checking import BASES
from tailrace.scenario.criteria import Criterion
from tailrace.scenario.inputs import inputs_of
from tailrace.scenario.target import StudyError
from tailrace.studies import batch
from tailrace.studies.runner import Runner
from tailrace.studies.tolerance import answer, plan, planning, solve, statistics
from tailrace.studies.tolerance.judging import ACCEPTED, REFUSED, Demand
from tailrace.studies.tolerance.qualification import Seen, of_peak, of_union, without_column

SHIPPED = sorted((ROOT / "scenarios" / "tolerance").glob("*.toml"))


@pytest.fixture(scope="module")
def scenario(tmp_path_factory):
    return loaded(tmp_path_factory.mktemp("tolerance"), UNCERTAIN, ACCEPT)


@pytest.fixture(scope="module")
def few():
    with pytest.MonkeyPatch.context() as patch:
        for (module, name), value in FEW.items():
            patch.setattr(module, name, value)
        yield


def test_the_number_of_threads_changes_no_bit(scenario, few, monkeypatch):
    found = []
    for threads in ("1", "2"):
        monkeypatch.setenv("NUMBA_NUM_THREADS", threads)
        found.append(answer(plan(scenario, samples=20)))
    for name, values in found[0].metrics.items():
        assert values.tobytes() == found[1].metrics[name].tobytes(), name


def test_samples_that_are_not_independent_have_no_wilks_limits(scenario, few):
    result = answer(plan(scenario, samples=16, generator="sobol"))
    assert result.outcomes[0].limits.refused == "dependent samples"


def test_batches_go_on_until_the_digits_stand(scenario, few, monkeypatch):
    for module in (statistics, solve):
        monkeypatch.setattr(module, "BATCH", 20)
        monkeypatch.setattr(module, "LEAST_BATCHES", 2)
    monkeypatch.setattr(
        solve, "settled", lambda values, size, digits: (values.shape[1] >= 60, np.ones(2))
    )
    result = answer(plan(scenario, samples=10_000, digits=1))
    assert (result.stop.batches, result.stop.reached) == (3, True)
    assert result.samples == len(result.outcomes[0].values) == 60
    assert result.metrics["recorded/apex"].shape == (60, 2)
    # The first batch holds the first samples of the whole: the same scores whatever the number.
    whole = answer(plan(scenario, samples=20))
    for one, other in zip(whole.inputs, result.inputs, strict=True):
        np.testing.assert_array_equal(one.values, other.values[:20])
    np.testing.assert_array_equal(whole.outcomes[0].values, result.outcomes[0].values[:20])


def test_a_sample_that_cannot_be_computed_counts_as_undecided(scenario, few, monkeypatch):
    from tailrace.errors import BudgetError as Refused
    from tailrace.journey import travel

    def picky(itinerary):
        if np.any(np.asarray(itinerary.passages[1][0].volume) > 3.4e-9):
            raise Refused("too wide")
        return travel(itinerary)

    monkeypatch.setattr(batch, "travel", picky)
    result = answer(plan(scenario, samples=24, seed=3))
    failed = int(np.sum(result.inputs[0].values > 3.4e-9))
    assert failed > 0
    assert result.acceptance.undecided >= failed
    assert result.failed == failed
    assert result.outcomes[0].spread.samples == 24 - failed


def test_without_criteria_figures_are_followed(tmp_path, few):
    result = answer(plan(loaded(tmp_path, UNCERTAIN), samples=10))
    assert [one.name for one in result.outcomes[:2]] == [
        f"plates at own retention of {name}" for name in ("one", "two")
    ]
    assert result.acceptance is None
    assert result.satisfied
    assert result.checks == ()


def test_a_figure_that_no_sample_has(tmp_path, few):
    rows = '\n[[accept]]\nmeasure = "signal-to-noise ratio"\nat_least = 3\n'
    with pytest.raises(AccuracyError, match="no sample has a value for signal-to-noise ratio"):
        answer(plan(loaded(tmp_path, UNCERTAIN, rows), samples=10))


def test_progress_never_goes_back(scenario, few):
    reported = []
    answer(plan(scenario, samples=12), Runner(progress=lambda *numbers: reported.append(numbers)))
    assert [done for done, _ in reported] == sorted(done for done, _ in reported)
    assert reported[-1][0] == reported[-1][1]


@pytest.mark.parametrize(
    ("options", "text"),
    [
        ({"samples": 5}, "at least 10 samples"),
        ({"seed": -1}, "a seed of 0 or more"),
        ({"digits": 3}, "1 or 2 digits"),
        ({"digits": 1, "generator": "halton"}, "expected the generator random"),
        ({"digits": 1, "samples": 500}, "at least 10000 samples"),
        ({"indices": 100}, "a power of 2 up to"),
        ({"generator": "dice"}, "expected a generator of"),
        ({"generator": "sobol", "samples": 100}, "take 64 or 128"),
        ({"widen": ["cell.volum"]}, 'write "cell.volume"'),
        ({"widen": ["cell.tanks"]}, "expected a known uncertain field"),
        ({"maps": [("cell.volume", "cell.volume")]}, "two uncertain fields that differ"),
    ],
)
def test_what_cannot_be_asked(scenario, options, text):
    with pytest.raises(StudyError, match=text):
        plan(scenario, **options)


def test_more_samples_than_can_be_made(scenario):
    with pytest.raises(BudgetError, match="at most 1000000 samples"):
        plan(scenario, samples=2_000_000)


def test_widening_needs_criteria(tmp_path):
    with pytest.raises(StudyError, match=r"found no \[\[accept\]\]"):
        plan(loaded(tmp_path, UNCERTAIN), widen=["all"])


def test_quotes_and_all(scenario):
    assert plan(scenario, widen=['"cell".volume']).widen == (1,)
    assert plan(scenario, widen=["all"]).widen == (0, 1, 2)
    assert plan(scenario, together=True).shared == (0, 1, 2)
    assert plan(scenario, maps=[("cell.volume", "filter.volume")]).maps == ((1, 0),)


def test_a_union_takes_the_place_of_the_column(scenario):
    left = without_column(scenario.itinerary())
    assert [part.name for part, _ in left.passages] == ["injection", "filter", "cell"]
    assert len(inputs_of(scenario)) == 3


@pytest.mark.parametrize("file", SHIPPED, ids=lambda file: file.stem)
def test_shipped_scenarios_can_be_planned(file):
    result = plan(tailrace.load(file), indices=64, widen=["all"], together=True)
    assert 3 <= len(result.inputs.inputs) <= 8
    assert set(result.inputs.kinds) <= {"tolerance", "knowledge"}
    assert len(result.limited) == 3
    assert not any(one.cut() for one in result.inputs.inputs)
    assert len(result.scenario.document.path) in (3, 7)
    assert len(result.scenario.document.solutes) in (1, 2)


def test_more_than_can_be_tried_at_every_place_is_refused(tmp_path):
    often = loaded(tmp_path, UNCERTAIN, ACCEPT.replace("0.8", "0.9999", 1))
    assert plan(often, samples=20).asked.samples == 20
    with pytest.raises(BudgetError, match=r"found 0\.9999 with 0\.9.*which take \d+; ask for less"):
        plan(often, samples=20, widen=("all",))


def test_a_name_with_an_apostrophe_can_be_widened():
    class Inputs:
        names = ("cell.volume", "analyst's tube.bore")

    for written in ("analyst's tube.bore", '"analyst\'s tube".bore'):
        assert planning._position(Inputs, written) == 1


def test_a_row_without_a_limit_says_so_and_has_no_risks():
    time = Criterion(measure="retention time", of=(0,), label="one")
    values = np.linspace(60.0, 61.0, 20)
    seen = Seen(criterion=time, nominal=60.5, true=values)
    row = of_peak(seen, Demand(criteria=(time,), required=0.95, confidence=0.95))
    assert np.isnan([row.at_least, row.at_most, row.consumer_risk, row.producer_risk]).all()
    assert row.rule == "no limit"
    assert row.basis == "few samples"


@pytest.mark.parametrize(
    ("accepted", "basis"), [(0, "few accepted"), (58, "few accepted"), (59, "accepted")]
)
def test_a_width_has_no_limit_where_too_few_satisfy_however_many_are_drawn(accepted, basis):
    """Of three hundred samples none keeps the criteria: to draw more of them was the advice."""
    width = Criterion(measure=METRICS[WIDTH].label, of=(0,), label="one")
    seen = Seen(criterion=width, nominal=1.0, true=np.linspace(0.9, 1.1, 300))
    states = np.where(np.arange(300) >= 300 - accepted, ACCEPTED, REFUSED)
    row = of_union(seen, states, Demand(criteria=(width,), required=0.95, confidence=0.95))
    assert row.basis == basis
    assert np.isnan(row.at_most) == (basis == "few accepted")
    assert "more samples change nothing" in BASES["few accepted"]
