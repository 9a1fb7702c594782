"""A tolerance study in its file: complete, with units, quick to open, and the same every time."""

from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest
import xarray
from reference.studies import SAMPLES, made_up

import tailrace
from tailrace.journey import travel
from tailrace.records.provenance import Provenance
from tailrace.records.store import RecordError
from tailrace.records.tolerance import as_record, as_study, read_tolerance, write_tolerance
from tailrace.studies.lanes import metrics_of

ABOUT = Provenance(title="t", scenario_sha256="00", scenario="x = 1\n", version="0.1.0")


@pytest.fixture(scope="module")
def scenario():
    return tailrace.load("scenarios/improved-core-shell.toml")


@pytest.fixture(scope="module")
def study(scenario):
    return made_up(scenario)


@pytest.fixture(scope="module")
def record(study):
    return as_record(study, ABOUT)


@pytest.fixture(scope="module")
def stored(record, tmp_path_factory):
    file = tmp_path_factory.mktemp("study") / "study.h5"
    write_tolerance(file, record)
    return file


@pytest.fixture(scope="module")
def back(stored):
    return as_study(read_tolerance(stored))


def assert_alike(one, other, where=""):
    """Equal to the last digit, through records, tuples and arrays; NaN equals NaN."""
    if is_dataclass(one):
        assert type(one) is type(other), where
        for field in fields(one):
            name = field.name
            assert_alike(getattr(one, name), getattr(other, name), f"{where}.{name}")
    elif isinstance(one, dict):
        assert list(one) == list(other), where
        for key in one:
            assert_alike(one[key], other[key], f"{where}[{key}]")
    elif isinstance(one, tuple):
        assert len(one) == len(other), where
        for index, pair in enumerate(zip(one, other, strict=True)):
            assert_alike(*pair, f"{where}[{index}]")
    else:
        np.testing.assert_array_equal(one, other, err_msg=where)


READ_BACK = ["outcomes", "acceptance", "stop", "indices", "widenings", "maps", "checks"]


@pytest.mark.parametrize("name", READ_BACK)
def test_what_is_read_is_what_was_written(study, back, name):
    assert_alike(getattr(study, name), getattr(back, name), name)


def test_the_tree_is_read_back_equal_and_the_same_study_gives_the_same_bytes(
    record, study, stored, tmp_path
):
    xarray.testing.assert_identical(read_tolerance(stored), record)
    write_tolerance(tmp_path / "again.h5", as_record(study, ABOUT))
    assert (tmp_path / "again.h5").read_bytes() == stored.read_bytes()


def test_inputs_are_named_and_carry_units_and_words(study, stored, back):
    with xarray.open_datatree(stored, engine="h5netcdf") as tree:
        bore = tree["samples"]["inlet_tube.bore"]
        assert bore.attrs["units"] == "m"
        assert bore.attrs["long_name"] == "inlet tube.bore"
        assert bore.attrs["sentence"] == "uniform, half width 0.012 mm"
        np.testing.assert_array_equal(bore.values, study.samples.values()[:, 0])
        assert tree.attrs["seed"] == 1
        assert tree.attrs["scenario_sha256"] == "00"
        assert "numpy" in tree.attrs["libraries"]
        for group in tree.subtree:
            for name, variable in group.data_vars.items():
                assert {"units", "long_name"} <= variable.attrs.keys(), f"{group.path} {name}"
    assert [one.name for one in back.inputs] == ["inlet tube.bore", "flow cell.volume"]
    assert back.samples == SAMPLES
    assert back.provenance == ABOUT
    assert (back.cautions, back.met) == (study.cautions, study.met)


def test_what_was_not_asked_for_is_not_there(scenario, study, tmp_path):
    bare = {"indices": None, "stop": None, "acceptance": None}
    empty = dict.fromkeys(("widenings", "maps", "checks", "cautions"), ())
    small = replace(study, **bare, **empty)
    write_tolerance(tmp_path / "small.h5", as_record(small, ABOUT))
    back = as_study(read_tolerance(tmp_path / "small.h5"))
    assert {key: getattr(back, key) for key in (*bare, *empty)} == bare | empty
    assert back.check is None


@pytest.mark.parametrize("names", [("a/b.x", "a b.x"), ("../../é.x", 'say "<script>".x')])
def test_names_of_inputs_may_be_anything(scenario, tmp_path, names):
    write_tolerance(tmp_path / "study.h5", as_record(made_up(scenario, names), ABOUT))
    back = as_study(read_tolerance(tmp_path / "study.h5"))
    assert tuple(one.name for one in back.inputs) == names
    assert sorted(one.name for one in tmp_path.iterdir()) == ["study.h5"]


def test_ten_thousand_samples_take_less_than_200_megabytes(scenario, tmp_path):
    """The bar of the project; a run of two solutes has about 130 figures a solute and sample."""
    itinerary = scenario.itinerary()
    one = metrics_of(travel(itinerary), [itinerary])
    generator = np.random.default_rng(1)
    many = {
        name: np.repeat(values, 10_000, axis=0)
        if values.dtype.kind in "bU"
        else values * (1 + 0.01 * generator.standard_normal((10_000, *values.shape[1:])))
        for name, values in one.items()
    }
    values = generator.standard_normal((10_000, 2))
    study = made_up(scenario)
    study.samples.values = lambda: values
    followed = tuple(
        replace(out, values=generator.standard_normal(10_000), errors=np.zeros(10_000))
        for out in study.outcomes
    )
    file = tmp_path / "many.h5"
    large = replace(study, figures=many, outcomes=followed)
    write_tolerance(file, as_record(large, ABOUT))
    assert file.stat().st_size < 200e6
    with xarray.open_datatree(file, engine="h5netcdf") as tree:
        assert tree["figures"].sizes["sample"] == 10_000
        tree.load()


def test_another_file_is_refused(tmp_path, stored):
    (tmp_path / "text.h5").write_text("no record")
    for name, found in (("text.h5", "another kind of file"), ("none.h5", "nothing")):
        with pytest.raises(RecordError, match=f"found {found}; name a file .* `tolerance --out`"):
            read_tolerance(tmp_path / name)
    content = stored.read_bytes()
    (tmp_path / "half.h5").write_bytes(content[: len(content) // 2])
    with pytest.raises(RecordError, match="damaged"):
        read_tolerance(tmp_path / "half.h5")
