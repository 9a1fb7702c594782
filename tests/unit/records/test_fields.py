"""A plume as a Dataset: units, sums, and the way to HDF5 and back."""

import numpy as np
import pytest

from tailrace.records.fields import as_dataset, read_fields, write_fields
from tailrace.records.provenance import Provenance
from tailrace.records.store import RecordError
from tailrace.studies.plume import plume


@pytest.fixture(scope="module")
def shown():
    return plume(times=[0.2, 0.6], rings=5, sections=9)


@pytest.fixture(scope="module")
def dataset(shown):
    about = Provenance(
        title="t", scenario_sha256="0", scenario="s", version="1", assumptions=("one\ntwo",)
    )
    return as_dataset(shown, about)


def test_every_variable_says_its_unit(dataset):
    # bounds have the unit of their axis by the CF conventions, section 7.1 (from memory)
    bounds = {"radius_bounds", "length_bounds"}
    for name, variable in dataset.variables.items():
        assert name in bounds or (variable.attrs["units"] and variable.attrs["long_name"]), name
    assert [dataset[name].attrs["units"] for name in ("time", "radius", "length")] == [
        "s",
        "m",
        "m",
    ]


def test_coordinates_are_middles_between_bounds(dataset, shown):
    for name, edges in (("radius", shown.radii), ("length", shown.lengths)):
        bounds = dataset[dataset[name].attrs["bounds"]].values
        assert bounds.mean(axis=1) == pytest.approx(dataset[name].values)
        assert np.unique(bounds) == pytest.approx(edges)


def test_the_amount_is_the_sum_of_concentration_times_volume(dataset):
    held = (dataset.concentration * dataset.volume).sum(("radius", "length"))
    assert held.values == pytest.approx(dataset.amount_held.values, rel=1e-12)
    balance = dataset.amount_entered - dataset.amount_left
    assert held.values == pytest.approx(balance.values, abs=1e-9)


def test_signals_stand_beside_it(dataset, shown):
    assert dataset.outlet_signal.sizes == {"outlet_time": shown.outlet.values.shape[1]}
    assert dataset.outlet_time.values == pytest.approx(shown.outlet.times[0])


def test_written_and_read_it_is_the_same(dataset, tmp_path):
    file = tmp_path / "field.h5"
    write_fields(file, dataset)
    assert read_fields(file).identical(dataset)
    first = file.read_bytes()
    write_fields(file, dataset)
    assert file.read_bytes() == first
    assert [one.name for one in tmp_path.iterdir()] == ["field.h5"]


def test_provenance_may_be_left_out(shown):
    assert "scenario" not in as_dataset(shown).attrs
    assert as_dataset(shown).attrs["part"] == "tube"


def test_files_that_are_no_field(dataset, tmp_path):
    with pytest.raises(RecordError, match="found nothing"):
        read_fields(tmp_path / "none.h5")
    text = tmp_path / "text.h5"
    text.write_text("no")
    with pytest.raises(RecordError, match="another kind of file"):
        read_fields(text)
    other = tmp_path / "other.h5"
    write_fields(other, dataset.assign_attrs(layout=99))
    with pytest.raises(RecordError, match="layout 1"):
        read_fields(other)
    whole = tmp_path / "whole.h5"
    write_fields(whole, dataset)
    whole.write_bytes(whole.read_bytes()[:3000])
    with pytest.raises(RecordError, match="damaged"):
        read_fields(whole)
