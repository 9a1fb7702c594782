"""A sweep of very many cells: its record is written block by block, and read lazily."""

from dataclasses import replace
from pathlib import Path

import h5py
import numpy as np
import pytest
import xarray
from reference.checkpoints import Shelves

import tailrace
from tailrace.records import seal, sweep_record
from tailrace.records.seal import seal_of
from tailrace.records.slabs import chunks, slabs
from tailrace.studies import engine, sweeping
from tailrace.studies.runner import Runner
from tailrace.studies.sweeping import answer, plan

FILE = Path(__file__).parents[3] / "scenarios" / "bare-tube.toml"
VARY = ("tube.length = 2 .. 4 m, 9 points", "method.flow = 0.5 .. 1 mL/min, 11 points")


@pytest.mark.parametrize("shape", [(7,), (3, 4), (2, 3, 4, 5), (1, 50)])
@pytest.mark.parametrize("most", [1, 3, 8, 1000])
def test_slabs_are_the_whole_in_order(shape, most):
    whole = np.arange(np.prod(shape)).reshape(shape)
    found = [(whole[slab].ravel(), count) for slab, count in slabs(shape, most)]
    assert [one.size for one, _ in found] == [count for _, count in found]
    assert max(count for _, count in found) <= most
    assert np.concatenate([one for one, _ in found]).tolist() == list(range(whole.size))
    assert np.prod(chunks(shape, most)) == max(count for _, count in found)


@pytest.fixture(scope="module")
def both():
    """The same sweep, with few of its metrics in memory and with all."""
    with pytest.MonkeyPatch.context() as patch:
        for module, name in ((sweeping, "FEW"), (sweeping, "MANY"), (sweep_record, "MANY")):
            patch.setattr(module, name, 2)
        patch.setattr(engine, "LANES", 14)
        patch.setattr(sweep_record, "CELLS", 40)
        planned, shelves = plan(tailrace.load(FILE), VARY), Shelves()
        few = answer(planned, Runner(checkpoint=shelves))
        at_once = replace(planned, batch=replace(planned.batch, gather=None))
        yield few, answer(at_once, Runner(checkpoint=shelves))


def test_what_is_written_block_by_block_is_what_would_be_written_at_once(both, tmp_path):
    few, whole = both
    assert few.engine == whole.engine
    assert whole.stored is None
    assert set(few.metrics) < set(whole.metrics)
    assert few.engine.multiplied == 99
    for name, made in (("whole", whole), ("few", few), ("again", few)):
        made.save(tmp_path / f"{name}.h5")
    assert (tmp_path / "few.h5").read_bytes() == (tmp_path / "again.h5").read_bytes()
    one, other = (
        xarray.load_dataset(tmp_path / f"{name}.h5", engine="h5netcdf") for name in ("whole", "few")
    )
    assert set(other.variables) == set(one.variables)
    for name in one.variables:
        xarray.testing.assert_identical(one[name], other[name])


def test_its_metrics_are_read_when_they_are_computed_with(both, tmp_path):
    pytest.importorskip("dask")
    made = both[0]
    made.save(tmp_path / "few.h5")
    lazy = tailrace.read(tmp_path / "few.h5", chunks={})
    assert lazy.metrics["numerical_error/variance"].npartitions > 1
    eager = tailrace.read(tmp_path / "few.h5")
    assert lazy.metrics.keys() == eager.metrics.keys()
    for name, values in eager.metrics.items():
        np.testing.assert_array_equal(np.asarray(lazy.metrics[name]), values, err_msg=name)
    np.testing.assert_array_equal(
        eager.metrics["recorded/variance"], made.metrics["recorded/variance"]
    )


def test_rows_of_cases_that_were_marched_stand_in_their_places(both):
    made = both[0]
    at = np.array([3, 8])
    rest = {name: values * np.nan for name, values in made.stored.picked(at.tolist()).items()
            if values.dtype.kind == "f"}  # fmt: skip
    mixed = replace(made.stored, cases=at, rest=rest).rows(1, 10)["recorded/variance"]
    expected = made.metrics["recorded/variance"][1:10].copy()
    expected[at - 1] = np.nan
    np.testing.assert_array_equal(mixed, expected)


def test_a_seal_is_the_same_whether_read_at_once_or_in_pieces(both, tmp_path, monkeypatch):
    both[1].save(tmp_path / "whole.h5")
    found = []
    for size in (10**9, 7):
        monkeypatch.setattr(seal, "SLAB", size)
        with h5py.File(tmp_path / "whole.h5") as file:
            found.append(seal_of(file))
    assert found[0] == found[1]
