"""The record of an improvement: complete, with units, read back equal, the same bytes twice."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import xarray
from reference.improvements import NAMES, expected, improvement, scenario

from tailrace.records.improvement import as_dataset
from tailrace.records.improvement_store import read_improvement, write_improvement
from tailrace.records.provenance import Provenance
from tailrace.records.store import RecordError

PROVENANCE = Provenance(
    title="A title", scenario_sha256="a1b2c3", scenario="text", version="1", assumptions=("one",)
)


@pytest.fixture(scope="module")
def made():
    document = SimpleNamespace(solutes=[SimpleNamespace(name="cohumulone")])
    told = scenario()
    told.document = document
    return improvement(scenario=told, expected=expected())


@pytest.fixture(scope="module")
def dataset(made):
    return as_dataset(made, PROVENANCE)


def test_combinations_and_changes_are_dimensions(dataset):
    assert dict(dataset.sizes) == {
        "combination": 8,
        "change": 4,
        "step": 4,
        "solute": 1,
        "expectation": 8,
    }
    assert dataset["change"].values.tolist() == list(NAMES)
    assert dataset["taken"].sum().item() == 12


def test_every_variable_says_what_it_is(dataset):
    for name, variable in dataset.variables.items():
        assert variable.attrs["long_name"], name
        assert "units" in variable.attrs, name


def test_numbers_are_those_of_the_answer(made, dataset):
    rows = made.combinations
    np.testing.assert_array_equal(dataset["combination_figure"], rows.figure)
    np.testing.assert_array_equal(dataset["plates_half_height"][:, 0], rows.figure)
    np.testing.assert_array_equal(
        dataset["combination_figure"][dataset["step_combination"]], dataset["step_figure"]
    )
    on = np.flatnonzero(dataset["frontier_cost"])
    assert on.tolist() == sorted(made.frontiers["cost"].tolist())
    assert dataset.attrs["verdict"] == made.verdict
    assert dataset.attrs["constraint_pressure"] == 400e5
    assert dataset["expected_value"][2].item() == made.expected.rows[2].value


def test_it_is_read_back_identical_and_its_bytes_are_the_same(dataset, tmp_path):
    for name in ("one.h5", "other.h5"):
        write_improvement(tmp_path / name, dataset)
    assert (tmp_path / "one.h5").read_bytes() == (tmp_path / "other.h5").read_bytes()
    xarray.testing.assert_identical(read_improvement(tmp_path / "one.h5"), dataset)
    with xarray.open_dataset(tmp_path / "one.h5", engine="h5netcdf") as opened:
        assert opened.sizes["combination"] == 8


def test_without_expected_figures_none_are_stored(made):
    dataset = as_dataset(replace(made, expected=None), PROVENANCE)
    assert "expectation" not in dataset.sizes


def test_what_is_no_improvement_is_refused(dataset, tmp_path):
    with pytest.raises(RecordError, match="found nothing"):
        read_improvement(tmp_path / "none.h5")
    (tmp_path / "text.h5").write_text("x")
    with pytest.raises(RecordError, match="found another kind of file"):
        read_improvement(tmp_path / "text.h5")
    write_improvement(tmp_path / "old.h5", dataset.assign_attrs(layout=0))
    with pytest.raises(RecordError, match="of layout 1, found another file"):
        read_improvement(tmp_path / "old.h5")
    write_improvement(tmp_path / "cut.h5", dataset)
    content = (tmp_path / "cut.h5").read_bytes()
    (tmp_path / "cut.h5").write_bytes(content[: len(content) // 2])
    with pytest.raises(RecordError, match="found a damaged one"):
        read_improvement(tmp_path / "cut.h5")
