"""The study of changes: how its journeys are travelled, and what it refuses."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from reference.improving import CELL, FAST, NOTHING, SECOND, START, TUBE, loaded

from tailrace.errors import AccuracyError, BudgetError, TailraceError
from tailrace.journey import travel
from tailrace.journey.product import multiply
from tailrace.measures.registry import APEX, PLATES, PLATES_OWN, TAILING, WIDTH
from tailrace.report.improvement.printed import as_text
from tailrace.scenario.changed import changed
from tailrace.scenario.scenario import Scenario
from tailrace.studies import improving
from tailrace.studies.improving import Constraints, branches, instruments, planning, searching
from tailrace.studies.improving.planning import planned
from tailrace.studies.improving.solve import answer as answered
from tailrace.studies.improving.solve import improve
from tailrace.studies.runner import Runner

FOUR = (CELL, TUBE, FAST, NOTHING)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("improving")


@pytest.fixture(scope="module")
def answer(folder):
    return improve(loaded(folder, *FOUR))


def test_threads_and_repeats_give_the_same_bytes(folder, monkeypatch):
    plan = planned(loaded(folder, CELL, TUBE, FAST, start=START + SECOND))
    whole = []
    for threads in ("1", "2", "2"):
        monkeypatch.setenv("NUMBA_NUM_THREADS", threads)
        result = answered(plan)
        whole.append(
            [
                values.tobytes()
                for group in (result.combinations.recorded, result.combinations.textbook)
                for values in group.values()
            ]
        )
    assert whole[0] == whole[1] == whole[2]


def test_stored_blocks_are_not_simulated_again(folder):
    plan = planned(loaded(folder, CELL, TUBE))

    class Stored(dict):
        def stored(self, batch):
            return [self.get((batch.name, block)) for block in range(len(batch.blocks))]

        def write(self, batch, block, metrics):
            self[batch.name, block] = metrics

    stored = Stored()
    first = answered(plan, Runner(checkpoint=stored))
    assert len(stored) == len(plan.batch.blocks)
    seen = []
    again = answered(
        plan, Runner(checkpoint=stored, progress=lambda done, total: seen.append((done, total)))
    )
    assert seen == [(4, 4)]
    assert again.combinations.value.tolist() == first.combinations.value.tolist()


def test_many_changes_are_searched_and_it_is_said(folder, answer, monkeypatch):
    monkeypatch.setattr(planning, "MOST_CHANGES", 3)
    result = improve(loaded(folder, *FOUR))
    assert result.orders_sampled == searching.ORDERS_SAMPLED
    assert set(result.steps[-1].taken) == set(answer.steps[-1].taken)
    assert sum(one.share for one in result.changes) == pytest.approx(result.whole_gain, abs=1e-9)
    for one, exact in zip(result.changes, answer.changes, strict=True):
        assert abs(one.share - exact.share) <= 4 * one.share_error + 1e-9
    again = improve(loaded(folder, *FOUR))
    assert again.combinations.value.tolist() == result.combinations.value.tolist()
    assert again.steps[-1].taken == result.steps[-1].taken


def test_all_combinations_of_more_changes_where_they_are_products(folder, answer, monkeypatch):
    monkeypatch.setattr(planning, "MOST_CHANGES", 3)
    monkeypatch.setattr(planning, "FEW", 2)
    monkeypatch.setattr(instruments, "AT_RANDOM", 1)
    result = improve(loaded(folder, *FOUR))
    assert result.orders_sampled == 0
    assert result.combinations.value == pytest.approx(answer.combinations.value, rel=1e-9)
    assert [one.change for one in result.steps] == [one.change for one in answer.steps]
    marched = improve(loaded(folder, *FOUR), runner=Runner(engine="march"))
    assert marched.orders_sampled == searching.ORDERS_SAMPLED


def test_an_expected_figure_has_the_numerical_error_where_no_other_is_stated(answer):
    rows = [one for one in answer.expected.rows if one.step == 0]
    assert [one.metric for one in rows] == [
        *(APEX, WIDTH, PLATES, TAILING, PLATES_OWN),
        "pressure",
    ]
    plates = rows[4]
    assert plates.value == answer.start
    assert plates.error == pytest.approx(answer.steps[0].error)
    assert np.isnan(plates.high)  # no uncertainty is stated: no band
    assert answer.expected.samples == 0


def test_uncertain_inputs_widen_the_bands_and_leave_steps_open(folder):
    unsure = (
        '[[uncertain]]\nfield = "flow cell.volume"\ndistribution = "normal"\nrelative = 0.1\n'
        '[[uncertain]]\nfield = "inlet tube.bore"\ndistribution = "normal"\n'
        'standard_deviation = "15 um"\n'
    )
    near = CELL.replace('"2 uL"', '"6.3 uL"')
    sure = improve(loaded(folder, near, TUBE))
    result = improve(loaded(folder, near, TUBE, unsure))
    assert result.combinations.value.tolist() == sure.combinations.value.tolist()
    step = result.steps[1]
    assert step.gain_low < step.gain < step.gain_high
    assert result.expected.samples == 64
    plates = next(one for one in result.expected.rows if (one.step, one.metric) == (1, PLATES))
    assert plates.low < plates.value - 10 * step.error and plates.value < plates.high
    # the two bring about the same: which comes first is open only once inputs are unsure
    assert sure.ties == () and result.ties == ((1, 2),)


def failing(monkeypatch, least):
    """Cells below a volume (m^3) cannot be computed."""
    passed = branches.passed

    def sometimes(passage, band, resolution):
        if passage[0].kind == "cell" and np.min(passage[0].volume) < least:
            raise BudgetError("flow cell: too much work")
        return passed(passage, band, resolution)

    monkeypatch.setattr(branches, "passed", sometimes)


def test_what_cannot_be_computed_is_left_out_and_says_so(folder, monkeypatch):
    failing(monkeypatch, 3e-9)
    result = improve(loaded(folder, CELL, TUBE))
    assert result.combinations.computed.tolist() == [True, False, True, False]
    cell, tube = result.changes
    assert cell.reason == "not computed"
    assert result.combinations.warnings[cell.tried] == "not computed: flow cell: too much work"
    assert cell.share == 0 and np.isnan(cell.alone)
    assert tube.in_best and tube.share == pytest.approx(result.whole_gain)
    failing(monkeypatch, 1e-6)
    with pytest.raises(AccuracyError, match="no case could be computed; the first, the start"):
        improve(loaded(folder, CELL, TUBE))


def test_a_signal_in_absorbance(folder):
    start = START.replace("interval", 'noise = "0.02 mAU"\nnoise_time_constant = "1 s"\ninterval')
    solute = 'amount = "1 nmol"\nabsorptivity = "9000 L/mol/cm"\n[[path]]'
    made = improve(loaded(folder, FAST, start=start.replace("[[path]]", solute, 1)), aim="signal")
    assert made.aim.label == "signal-to-noise ratio"
    for row in (0, 1):
        result = travel(made.scenario_with(made.names(row)).itinerary())
        own = result.signal["signal_to_noise"][0]
        assert made.combinations.value[row] == pytest.approx(own, rel=1e-4)
    ratio = made.combinations.value[1] / made.combinations.value[0]
    assert made.combinations.signal_to_noise[1] == pytest.approx(ratio)


@pytest.mark.parametrize(
    ("choices", "phrase"),
    [
        ({"aim": "beauty"}, "expected an aim of plates, resolution"),
        ({"of": "humulone"}, "aim plates: expected a solute such as early"),
        ({"aim": "resolution"}, "expected two solutes or more"),
        ({"order": "luck"}, "expected an order of gain, money, effort"),
        ({"stop": 1.5}, "expected to stop at a share"),
        ({"constraints": Constraints(budget=-1.0)}, "expected a budget of 0 or more"),
    ],
)
def test_wrong_questions(folder, choices, phrase):
    with pytest.raises(TailraceError, match=phrase) as reported:
        improving.improve(loaded(folder, CELL), **choices)
    assert reported.value.exit_code == 2


def test_no_changes(folder):
    with pytest.raises(TailraceError, match=r"expected \[\[changes\]\] to choose from, found none"):
        planned(loaded(folder))


def test_a_signal_asks_for_a_detector(folder):
    with pytest.raises(TailraceError, match="whose noise the signal is compared with"):
        planned(loaded(folder, CELL, start=START.split("[detector]")[0]), aim="signal")


def less_injected(amounts):
    """A third of the sample; amounts are known, or not."""
    path = Path(__file__).parents[3] / "scenarios/decide/signal-forbids-smallest-cell.toml"
    tables = tomllib.loads(path.read_text("utf-8"))
    tables["injection"] = {"shape": "plug", "volume": "6 uL"}
    tables["changes"] = [
        {"name": "less", "set": {"injection": {"volume": "2 uL"}}},
        {"name": "small cell", "set": {"flow cell": {"volume": "2.5 uL", "light_path": "6 mm"}}},
    ]
    if not amounts:
        for one in tables["solutes"]:
            del one["amount"]
    return Scenario.from_tables(tables)


@pytest.mark.parametrize("amounts", [True, False])
def test_what_is_injected_less_is_missing_from_the_signal(amounts):
    """A height is in proportion to what is injected (Lambert and Beer), of the same sample."""
    scenario = less_injected(amounts)
    found = improve(scenario)
    table = found.combinations
    row = next(at for at in range(4) if found.names(at) == ("less",))
    start, less = (multiply(one.itinerary()) for one in (scenario, changed(scenario, ["less"])))
    higher = less.recorded["height"] / start.recorded["height"]
    assert (higher > 1).all()
    assert table.signal_to_noise[row] == pytest.approx(min(higher) / 3, rel=1e-4)
    assert table.signal[row] == pytest.approx(min(higher) / 3, rel=1e-4)
    kept = table.signals["signal_to_noise"][row]
    if amounts:
        assert kept == pytest.approx(less.signal["signal_to_noise"], rel=1e-4)
        assert kept == pytest.approx(start.signal["signal_to_noise"] * higher / 3, rel=1e-4)
        assert table.signals["amount"][row] == pytest.approx(start.signal["amount"] / 3, rel=1e-9)
    else:
        assert np.isnan(kept).all()
    aimed = improve(scenario, "signal")
    assert not next(one for one in aimed.changes if one.name == "less").in_best
    bound = improve(scenario, constraints=Constraints(signal_to_noise=0.55))
    assert [one.change for one in bound.steps[1:]] == ["small cell"]
    told = "less, injects 2 uL in place of 6 uL: 67 % less of the sample"
    assert told in " ".join(as_text(found, "").split())
    assert told not in as_text(bound, "")
