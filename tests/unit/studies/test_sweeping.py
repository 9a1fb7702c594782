"""A sweep says what single runs say, whatever travels beside a case and on however many threads."""

import numpy as np
import pytest
from reference.checkpoints import Shelves

import tailrace
from tailrace.errors import AccuracyError, BudgetError, ScenarioError
from tailrace.journey import travel
from tailrace.records import sweep_record
from tailrace.records.separation import separation
from tailrace.studies import batch, sweeping
from tailrace.studies.cases import Cases, alike
from tailrace.studies.neighbours import NEIGHBOURLY
from tailrace.studies.runner import Runner
from tailrace.studies.sweeping import answer, plan, sweep

VARY = (
    '"inlet tube".length = 50, 200, 400 mm',
    "method.flow = 0.3, 1.2 mL/min",
    "path.late.particle = core-shell, fully porous",
    "cell.tanks = 1, 2",
)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    from .conftest import SCENARIO

    file = tmp_path_factory.mktemp("sweep") / "short.toml"
    file.write_text(SCENARIO)
    return sweep(tailrace.load(file), VARY)


@pytest.mark.parametrize("together", [False, True])
def test_valleys_are_those_of_single_runs_whoever_elutes_first(tmp_path, together):
    from .conftest import SCENARIO

    file = tmp_path / "close.toml"
    file.write_text(SCENARIO)
    vary = ["solutes.late.retention_factor = 1.3, 0.75, 1.0"]
    close = sweep(tailrace.load(file), vary, together)
    for case, first in enumerate((0, 1, None)):
        pairs = separation(travel(close.plan.itineraries[case]))
        told = {name: close.metrics[f"next/{name}"][case] for name in NEIGHBOURLY}
        if first is None:  # the same retention: one peak, and no valley
            assert np.isnan(told["valley_to_peak"]).all()
            continue
        assert np.isnan([values[1 - first] for values in told.values()]).all()
        off = close.metrics["next_error/valley_to_peak"][case, first] + pairs.valley_error[0]
        assert 0 < off < 0.02 * pairs.valley_to_peak[0]
        assert abs(told["valley_to_peak"][first] - pairs.valley_to_peak[0]) <= off
        ratio = 1 / told["valley_to_peak"][first]
        assert told["peak_to_valley"][first] == pytest.approx(ratio, rel=1e-12)
        one = close.metrics["next_error/peak_to_valley"][case, first]
        assert one == pytest.approx(ratio**2 * (off - pairs.valley_error[0]), rel=1e-12)
        off = close.metrics["next_error/half_height"][case, first] + pairs.numerical_error[0]
        assert abs(told["half_height"][first] - pairs.half_height[0]) <= off


def test_every_case_is_there(made):
    assert made.shape == (3, 2, 2, 2)
    assert made.metrics["recorded/variance"].shape == (24, 2)
    assert made.metrics["parts/variance_simulated"].shape == (24, 5, 2)
    assert made.metrics["computed"].all()
    assert sorted(case for block in made.plan.batch.blocks for case in block) == list(range(24))


@pytest.mark.parametrize("case", [0, 7, 13, 23])
def test_a_case_is_what_a_single_run_says(made, case):
    # Lanes share the finest grid of their block, so figures differ by what the grids leave over:
    # each run says how much. The smallest errors are below what sums of doubles can hold.
    alone = travel(made.plan.itineraries[case])
    reported = made.case(case)
    for name, error in alone.numerical_error.items():
        allowed = error + reported.numerical_error[name] + 1e-9 * np.abs(alone.recorded[name])
        assert np.all(np.abs(reported.recorded[name] - alone.recorded[name]) <= allowed), name
    for mine, other in zip(reported.parts, alone.parts, strict=True):
        assert (mine.name, mine.kind) == (other.name, other.kind)
        for name in ("variance_gaussian_theory", "variance_exact", "residence", "fourier_number"):
            np.testing.assert_allclose(getattr(mine, name), getattr(other, name), rtol=1e-12)
    assert reported.pressure.parts == pytest.approx(alone.pressure.parts, rel=1e-12)
    assert reported.pressure.total == pytest.approx(alone.pressure.total, rel=1e-12)
    assert reported.pressure.cell_inlet == alone.pressure.cell_inlet
    assert reported.warnings == alone.warnings
    assert reported.lanes == alone.lanes


def test_warnings_are_those_of_the_case_alone(scenario):
    # Hagen-Poiseuille: pressure goes with the flow; only the fast case exceeds 200 bar.
    result = sweep(scenario, ["method.flow = 0.1, 2.2 mL/min"])
    slow, fast = result.case(0), result.case(1)
    assert not [line for line in slow.warnings if "bar" in line]
    assert [line for line in fast.warnings if "the limit is 200 bar" in line]
    # Kozeny and Carman's and Poiseuille's laws are linear: 22 times the flow.
    assert fast.pressure.total == pytest.approx(22 * slow.pressure.total, rel=1e-12)


def test_the_number_of_threads_changes_no_bit(scenario, monkeypatch):
    vary = (*VARY[:2], "detector.time_constant = 0, 0.5 s")
    found = []
    for threads in ("1", "3"):
        monkeypatch.setenv("NUMBA_NUM_THREADS", threads)
        found.append(sweep(scenario, vary).metrics)
    one, other = found
    assert one.keys() == other.keys()
    for name, values in one.items():
        assert values.tobytes() == other[name].tobytes(), name


def test_the_order_of_axes_is_that_of_the_cases(scenario):
    result = sweep(scenario, ["inlet tube.length = 50, 100 mm", "method.flow = 0.3, 0.6, 1 mL/min"])
    volumes = result.metrics["parts/volume"][:, 1, 0].reshape(result.shape)
    # pi/4 bore^2 length, by hand for 0.17 mm and 50 mm: 1.1349 uL.
    np.testing.assert_allclose(volumes[0], 1.1349e-9, rtol=1e-4)
    np.testing.assert_allclose(volumes[1], 2 * volumes[0], rtol=1e-14)
    residences = result.metrics["parts/residence"][:, 1, 0].reshape(result.shape)
    np.testing.assert_allclose(residences[:, 2], residences[:, 0] * 0.3, rtol=1e-14)


def test_a_case_that_cannot_be_computed_leaves_the_others_whole(scenario, monkeypatch):
    def picky(itinerary):
        tube = itinerary.passages[1][0]
        if np.any(np.asarray(tube.length) > 0.3):
            raise BudgetError("too long")
        return travel(itinerary)

    vary = ["inlet tube.length = 50, 200, 400 mm"]
    whole = sweep(scenario, vary)
    monkeypatch.setattr(batch, "travel", picky)
    result = sweep(scenario, vary)
    assert result.metrics["computed"].tolist() == [True, True, False]
    assert result.metrics["warnings"][2] == "not computed: too long"
    recorded = result.metrics["recorded/variance"]
    assert np.isnan(recorded[2]).all()
    np.testing.assert_allclose(recorded[:2], whole.metrics["recorded/variance"][:2], rtol=1e-5)
    with pytest.raises(AccuracyError, match=r"no case could be computed; .*inlet .* too long"):
        sweep(scenario, ["inlet tube.length = 400, 500 mm"])


def test_progress_counts_cases(scenario):
    reported = []
    sweep(scenario, VARY[:2], runner=Runner(progress=lambda *numbers: reported.append(numbers)))
    assert reported[0] == (0, 6)
    assert reported[-1] == (6, 6)
    assert reported == sorted(reported)


def test_blocks_that_are_kept_are_not_made_again(scenario, monkeypatch):
    shelves, planned = Shelves(), plan(scenario, VARY[::2])
    first = answer(planned, Runner(checkpoint=shelves))
    assert sorted(shelves["cases"]) == list(range(len(planned.batch.blocks)))
    del shelves["cases"][1]
    asked = []

    def counted(itinerary):
        asked.append(len(itinerary.lanes))
        return travel(itinerary)

    monkeypatch.setattr(batch, "travel", counted)
    again = answer(planned, Runner(checkpoint=shelves))
    assert asked == [2 * len(planned.batch.blocks[1])]
    for name, values in first.metrics.items():
        assert values.tobytes() == again.metrics[name].tobytes(), name


def test_an_injected_signal_is_part_of_the_fingerprint(scenario, tmp_path, text):
    import tailrace

    prints = set()
    for height in (1, 2):
        (tmp_path / "inlet.csv").write_text(f"0,0\n1,{height}\n2,1\n3,0\n")
        file = tmp_path / "signal.toml"
        file.write_text(
            text.replace('shape = "plug"\nvolume = "2 uL"', 'shape = "signal"\nfile = "inlet.csv"')
        )
        prints.add(plan(tailrace.load(file), VARY[:2]).batch.fingerprint)
    assert len(prints) == 2


def test_the_file_of_an_injected_signal_can_be_varied(tmp_path, text):
    import tailrace

    # By hand: the 2 n - 1 points of a triangle of half base a, a/n apart, have the variance
    # (a^2/6) (1 - 1/n^2); the triangle itself a^2/6.
    for name, wide in (("narrow", 1.0), ("wide", 3.0)):
        points = [f"{wide * k / 10},{10 - abs(k)}\n" for k in range(-10, 11)]
        (tmp_path / f"{name}.csv").write_text("".join(points))
    file = tmp_path / "signal.toml"
    file.write_text(
        text.replace('shape = "plug"\nvolume = "2 uL"', 'shape = "signal"\nfile = "narrow.csv"')
    )
    loaded = tailrace.load(file)
    result = sweep(loaded, ["injection.file = narrow.csv, wide.csv"])
    injected = result.metrics["parts/variance_simulated"][:, 0, 0]
    np.testing.assert_allclose(injected, [0.99 / 6, 9 * 0.99 / 6], rtol=1e-6)
    with pytest.raises(ScenarioError, match=r"found no such file at .*none\.csv"):
        sweep(loaded, ["injection.file = none.csv"])


MANY = (
    '"inlet tube".length = 50, 200, 400 mm',
    "method.flow = 0.3, 1.2 mL/min",
    "cell.volume = 1, 2, 4 uL",
)


@pytest.mark.parametrize("together", [False, True])
def test_many_cases_made_from_few_are_those_built_one_by_one(made, monkeypatch, together):
    vary = (MANY[0], MANY[2]) if together else MANY
    one_by_one = plan(made.plan.scenario, vary, together)
    monkeypatch.setattr(sweeping, "FEW", 2)
    followed = plan(made.plan.scenario, vary, together)
    assert isinstance(followed.itineraries, Cases)
    pairs = zip(followed.itineraries, one_by_one.itineraries, strict=True)
    assert all(alike(one, other) for one, other in pairs)
    assert followed.where(1) == one_by_one.where(1)


def test_words_are_built_one_by_one(made, monkeypatch):
    monkeypatch.setattr(sweeping, "FEW", 2)
    assert isinstance(plan(made.plan.scenario, VARY).itineraries, tuple)
    monkeypatch.setattr(sweeping, "MOST_BUILT", 20)
    with pytest.raises(BudgetError, match="at most 20 cases of such fields, found 24"):
        plan(made.plan.scenario, VARY)


def test_a_large_sweep_keeps_less_and_its_file_opens_lazily(made, monkeypatch, tmp_path):
    xarray, _ = pytest.importorskip("xarray"), pytest.importorskip("dask")
    for module, name in ((sweeping, "FEW"), (sweeping, "MANY"), (sweep_record, "MANY")):
        monkeypatch.setattr(module, name, 2)
    found = sweep(made.plan.scenario, MANY)
    assert not any(name.startswith(("parts/", "column_alone/")) for name in found.metrics)
    found.save(tmp_path / "large.h5")
    with xarray.open_dataset(tmp_path / "large.h5", engine="h5netcdf", chunks={}) as lazy:
        assert lazy["variance"].chunks is not None
        values = lazy["variance"].values
    np.testing.assert_array_equal(values.reshape(18, 2), found.metrics["recorded/variance"])
    again = tailrace.read(tmp_path / "large.h5")
    np.testing.assert_array_equal(again.metrics["recorded/variance"], values.reshape(18, 2))
    np.testing.assert_array_equal(again.metrics["warnings"], found.metrics["warnings"])
