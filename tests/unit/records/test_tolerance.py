"""A tolerance study in its file: complete, with units, and the same every time."""

from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest
import xarray
from reference.studies import SAMPLES, made_up

import tailrace
from tailrace.journey import travel
from tailrace.records.provenance import Provenance
from tailrace.records.record import as_result, tree_of
from tailrace.records.store import RecordError, read_record, write_record
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
    return tree_of(study, ABOUT)


@pytest.fixture(scope="module")
def stored(record, tmp_path_factory):
    file = tmp_path_factory.mktemp("study") / "study.h5"
    write_record(file, record)
    return file


@pytest.fixture(scope="module")
def read(stored):
    return read_record(stored)


@pytest.fixture(scope="module")
def back(read):
    return as_result(read)


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


def test_what_is_read_is_what_was_written(study, back):
    assert back.source.seal
    assert_alike(replace(study, source=ABOUT), replace(back, source=replace(back.source, seal="")))
    assert back.samples == SAMPLES


def test_the_tree_is_read_back_equal_and_the_same_study_gives_the_same_bytes(
    record, study, stored, read, tmp_path
):
    xarray.testing.assert_identical(read, record)
    write_record(tmp_path / "again.h5", tree_of(study, ABOUT))
    assert (tmp_path / "again.h5").read_bytes() == stored.read_bytes()


def test_every_number_has_a_unit_and_that_of_a_metric_is_the_criterions(study, stored):
    with xarray.open_datatree(stored, engine="h5netcdf") as tree:
        bare = [
            f"{group.path} {name}"
            for group in tree.subtree
            for name, variable in group.variables.items()
            if variable.dtype.kind in "fiu" and not variable.attrs["units"]
        ]
        assert bare == []
        outcomes = tree["outcomes"]
        for name in ("values", "nominal", "spread_symmetric_low", "limits_at_least"):
            units = [str(one) for one in outcomes[f"{name}_units"].values]
            assert units == [one.unit for one in study.outcomes], name
        (first, *_) = (one for one in outcomes.children.values() if "acceptance" in one.children)
        assert first["acceptance"]["probability"].attrs["units"] == "1"
        assert tree["metrics/recorded"]["plates_half_height"].dims == ("sample", "solute")
        assert tree["metrics/parts"]["variance_simulated"].attrs["units"] == "s^2"
        assert tree.attrs["scenario_sha256"] == "00"
        assert "numpy" in tree.attrs["libraries"]


def test_what_was_not_asked_for_is_not_there(study, tmp_path):
    bare = {"indices": None, "stop": None, "acceptance": None}
    empty = dict.fromkeys(("widenings", "maps", "checks"), ())
    asked = replace(study.question, widen=(), maps=(), digits=2)
    few = dict([*study.metrics.items()][:3])
    small = replace(study, question=asked, metrics=few, **bare, **empty)
    write_record(tmp_path / "small.h5", tree_of(small, ABOUT))
    back = as_result(read_record(tmp_path / "small.h5"))
    assert {key: getattr(back, key) for key in (*bare, *empty)} == bare | empty
    assert back.question == asked


@pytest.mark.parametrize("names", [("a/b.x", "a b.x"), ("../../é.x", 'say "<script>".x')])
def test_names_of_inputs_may_be_anything(scenario, tmp_path, names):
    write_record(tmp_path / "study.h5", tree_of(made_up(scenario, names), ABOUT))
    back = as_result(read_record(tmp_path / "study.h5"))
    assert tuple(one.name for one in back.inputs) == names
    assert sorted(one.name for one in tmp_path.iterdir()) == ["study.h5"]


def test_ten_thousand_samples_take_less_than_200_megabytes(scenario, tmp_path):
    """The bar of the project; a run of two solutes has about 130 metrics a solute and sample."""
    itinerary = scenario.itinerary()
    one = metrics_of(travel(itinerary), [itinerary])
    generator = np.random.default_rng(1)
    many = {
        name: values * (1 + 0.01 * generator.standard_normal((10_000, *values.shape[1:])))
        for name, values in one.items()
        if values.dtype.kind == "f"
    }
    study = made_up(scenario)
    followed = tuple(
        replace(out, values=generator.standard_normal(10_000), errors=np.zeros(10_000))
        for out in study.outcomes
    )
    inputs = tuple(replace(one, values=generator.standard_normal(10_000)) for one in study.inputs)
    large = replace(
        study,
        metrics=many,
        outcomes=followed,
        inputs=inputs,
        computed=np.ones(10_000, dtype=bool),
        warnings=np.full(10_000, "", dtype=object),
    )
    file = tmp_path / "many.h5"
    write_record(file, tree_of(large, ABOUT))
    assert file.stat().st_size < 200e6
    with xarray.open_datatree(file, engine="h5netcdf") as tree:
        assert tree["metrics/recorded"].sizes["sample"] == 10_000


def test_another_file_is_refused(tmp_path, stored):
    (tmp_path / "text.h5").write_text("no record")
    for name, found in (("text.h5", "another kind of file"), ("none.h5", "nothing")):
        with pytest.raises(RecordError, match=f"found {found}; name a file .* `tolerance --out`"):
            read_record(tmp_path / name, "tailrace tolerance")
    content = stored.read_bytes()
    (tmp_path / "half.h5").write_bytes(content[: len(content) // 2])
    with pytest.raises(RecordError, match="damaged"):
        read_record(tmp_path / "half.h5", "tailrace tolerance")
