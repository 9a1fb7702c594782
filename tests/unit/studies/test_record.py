"""A sweep as a Dataset: named and united coordinates, to HDF5 and back."""

import numpy as np
import pytest
import xarray

import tailrace
from tailrace.records.provenance import Provenance
from tailrace.records.seal import SEAL
from tailrace.records.store import RecordError, read_record, write_record
from tailrace.records.sweep_record import KIND, as_dataset
from tailrace.studies.sweeping import sweep

VARY = ("inlet tube.length = 50, 200, 400 mm", "method.flow = 0.3, 1.2 mL/min")


def provenance(scenario):
    return Provenance(
        title=scenario.title,
        scenario_sha256=scenario.sha256,
        scenario=scenario.text,
        version="0",
        assumptions=tuple(scenario.assumptions()),
    )


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    from .conftest import SCENARIO

    file = tmp_path_factory.mktemp("sweep") / "short.toml"
    file.write_text(SCENARIO)
    return sweep(tailrace.load(file), VARY)


@pytest.fixture
def dataset(made):
    return as_dataset(made, provenance(made.plan.scenario))


@pytest.fixture(params=[False, True], ids=["each with each", "in step"])
def either(request, scenario):
    vary = ("inlet tube.length = 50, 200 mm", "late.particle = core-shell, fully porous")
    return as_dataset(sweep(scenario, vary, request.param), provenance(scenario))


def test_axes_are_coordinates_with_units(dataset):
    assert dataset["inlet_tube.length"].attrs["units"] == "m"
    assert dataset["method.flow"].attrs["units"] == "m^3/s"
    np.testing.assert_allclose(dataset["inlet_tube.length"], [0.05, 0.2, 0.4])
    assert dataset["variance"].dims == ("inlet_tube.length", "method.flow", "solute")
    assert list(dataset["solute"].values) == ["early", "late"]
    deep = dataset["resolution_peak_to_valley"]
    assert deep.dims == ("inlet_tube.length", "method.flow", "solute")
    assert (deep.sel(solute="early") > 1).all() and deep.sel(solute="late").isnull().all()
    assert list(dataset["kind"].values) == ["injector", "tube", "column", "cell", "detector"]


def test_every_variable_says_its_unit_and_meaning(dataset):
    for name, variable in dataset.variables.items():
        assert variable.attrs["units"] or variable.dtype.kind in "OU", name
        assert variable.attrs["long_name"], name


def test_figures_stand_where_their_case_is(made, dataset):
    # The case of the second length and the first flow is the third: the last axis goes fastest.
    case = made.case(2)
    here = dataset.isel({"inlet_tube.length": 1, "method.flow": 0})
    assert here["variance"].values.tolist() == case.recorded["variance"].tolist()
    assert here["variance_numerical_error"].values.tolist() == (
        case.numerical_error["variance"].tolist()
    )
    tube = here.isel(part=1)
    assert tube["part_variance_exact"].values.tolist() == case.parts[1].variance_exact.tolist()
    assert float(tube["part_pressure_drop"]) == case.pressure.parts["inlet tube"]
    assert np.isnan(here.isel(part=0)["part_pressure_drop"])
    assert float(here["pressure"]) == case.pressure.total
    kept = case.recorded["plates_own_retention"] / case.column_alone["plates_half_height"]
    assert here["kept_fraction"].values.tolist() == kept.tolist()


def test_in_step_there_is_one_dimension(scenario):
    vary = ["inlet tube.length = 50, 200 mm", "late.particle = core-shell, fully porous"]
    dataset = as_dataset(sweep(scenario, vary, together=True), provenance(scenario))
    assert dataset["variance"].dims == ("case", "solute")
    assert {"inlet_tube.length", "late.particle"} <= set(dataset.coords)
    assert dataset["inlet_tube.length"].dims == ("case",)
    assert list(dataset["late.particle"].values) == ["core-shell", "fully porous"]


def test_stored_and_read_it_is_the_same_and_so_are_the_bytes(either, tmp_path, scenario):
    dataset = either
    write_record(tmp_path / "one.h5", xarray.DataTree(dataset))
    stored = read_record(tmp_path / "one.h5", KIND).to_dataset()
    assert stored.attrs.pop(SEAL)
    xarray.testing.assert_identical(stored, dataset)
    assert stored.attrs["scenario"] == scenario.text
    write_record(tmp_path / "two.h5", xarray.DataTree(dataset))
    assert (tmp_path / "one.h5").read_bytes() == (tmp_path / "two.h5").read_bytes()


def test_what_is_no_sweep_is_refused(tmp_path, dataset):
    with pytest.raises(RecordError, match="found nothing"):
        read_record(tmp_path / "missing.h5", KIND)
    text = tmp_path / "text.h5"
    text.write_text("no HDF5")
    with pytest.raises(RecordError, match="found another kind of file"):
        read_record(text, KIND)
    other = xarray.DataTree(dataset.assign_attrs(kind="something else"))
    write_record(tmp_path / "other.h5", other)
    with pytest.raises(RecordError, match="found something else"):
        read_record(tmp_path / "other.h5", KIND)
