"""The record of an improvement: complete, with units, read back equal, the same bytes twice."""

import json
from dataclasses import fields, is_dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest
import xarray
from reference.improvements import NAMES, expected, improvement, scenario

from tailrace.journey.verification import CrossCheck
from tailrace.measures.registry import PLATES
from tailrace.records.provenance import Provenance
from tailrace.records.record import as_beside, as_result, tree_of
from tailrace.records.store import RecordError, read_record, write_record
from tailrace.report.improvement import sentences

PROVENANCE = Provenance(
    title="A title", scenario_sha256="a1b2c3", scenario="text", version="1", assumptions=("one",)
)
CHECK = CrossCheck(
    lanes=("cohumulone",),
    signal={"tube": np.array([1e-5])},
    variance={"tube": np.array([1e-6])},
    values={"apex": np.array([60.0]), "width_half": np.array([3.0])},
    differences={"apex": np.array([1e-6]), "width_half": np.array([-1e-6])},
    foreseen={"apex": np.array([1e-5]), "width_half": np.array([1e-5])},
    rounding=np.ones(1),
)


@pytest.fixture(scope="module")
def made():
    document = SimpleNamespace(solutes=[SimpleNamespace(name="cohumulone")])
    reported = scenario()
    reported.document = document
    changes = improvement().changes
    changes = (replace(changes[0], needs=(NAMES[1],), excludes=(NAMES[3],)), *changes[1:])
    rows = improvement().combinations
    satisfied = np.array([False] + [True] * 7)
    known = replace(expected(), swappable=(2,), whole_low=9e3, whole_high=1.1e4)
    return improvement(
        scenario=reported,
        expected=known,
        changes=changes,
        combinations=replace(rows, satisfied=satisfied),
        swappable=(2,),
    )


@pytest.fixture(scope="module")
def states(make_result, rows):
    """Two runs through three parts."""
    few = [rows[name] for name in ("injection", "column", "flow cell")]
    first = make_result(rows=few, warnings=("one",))
    return {"as it is": first, "after step 3, the last": make_result(rows=few)}


@pytest.fixture(scope="module")
def record(made, states):
    return tree_of(made, PROVENANCE, states=states, checks={"as it is": CHECK})


@pytest.fixture(scope="module")
def stored(record, tmp_path_factory):
    """The same as a file."""
    path = tmp_path_factory.mktemp("stored") / "one.h5"
    write_record(path, record)
    return path


@pytest.fixture(scope="module")
def read(stored):
    return read_record(stored)


def test_combinations_and_changes_are_dimensions(record):
    table = record["combinations"]
    assert dict(table["taken"].sizes) == {"combination": 8, "change": 4}
    assert dict(table[f"recorded/{PLATES}"].sizes) == {"combination": 8, "solute": 1}
    assert record["changes"]["change"].values.tolist() == list(NAMES)
    assert table["taken"].sum().item() == 12
    assert record["steps/value"].sizes == {"step": 4}
    assert record["expected/rows/value"].sizes == {"expectation": 8}


def test_every_variable_says_what_it_is(record):
    for group in record.subtree:
        for name, variable in group.dataset.variables.items():
            assert variable.attrs["long_name"], name
            assert variable.attrs["units"] or variable.dtype.kind in "OU", name


def test_numbers_are_those_of_the_answer(made, record):
    rows, table, steps = made.combinations, record["combinations"], record["steps"]
    np.testing.assert_array_equal(table["value"], rows.value)
    np.testing.assert_array_equal(table[f"recorded/{PLATES}"][:, 0], rows.value)
    np.testing.assert_array_equal(table["value"].values[steps["combination"]], steps["value"])
    assert record["expected/rows/value"][2].item() == made.expected.rows[2].value
    assert record["constraints/pressure"].item() == 400e5
    assert record["outcome"].item() == "worth it"
    assert record["frontiers/cost"].values.tolist() == [0, 1, 3, 7]


def test_it_is_read_back_equal_and_its_bytes_are_the_same(record, stored, read, tmp_path):
    write_record(tmp_path / "other.h5", record)
    assert stored.read_bytes() == (tmp_path / "other.h5").read_bytes()
    xarray.testing.assert_identical(read, record)
    with xarray.open_datatree(stored, engine="h5netcdf") as opened:
        assert opened["combinations"].sizes["combination"] == 8


def same(one, other, where=""):
    """Hold two answers to each other, however deep they are."""
    if is_dataclass(one):
        assert type(one) is type(other), where
        for field in fields(one):
            same(getattr(one, field.name), getattr(other, field.name), f"{where}.{field.name}")
    elif isinstance(one, dict):
        assert one.keys() == other.keys(), where
        for key in one:
            same(one[key], other[key], f"{where}.{key}")
    elif isinstance(one, tuple):
        assert len(one) == len(other), where
        for index, pair in enumerate(zip(one, other, strict=True)):
            same(*pair, f"{where}.{index}")
    else:
        np.testing.assert_array_equal(one, other, err_msg=where)


def test_the_answer_is_read_back_whole(made, read):
    back = as_result(read)
    assert back.scenario.text == "text"
    same(replace(made, scenario=None), replace(back, scenario=None))
    json.dumps([back.ties, back.best, back.stop_after, back.steps[0].number, back.worth_it])
    assert sentences.verdict(back) == sentences.verdict(made)


def test_states_are_runs_with_all_their_figures(record, states):
    results, checks = as_beside(record, "states"), as_beside(record, "checks")
    assert list(results) == list(states)
    same(states, results)
    assert list(checks) == ["as it is"]
    same(CHECK, checks["as it is"])


def test_without_expected_figures_none_are_stored(made, make_result):
    run = {"as it is": make_result()}
    record = tree_of(replace(made, expected=None), PROVENANCE, states=run)
    assert "expected" not in record
    assert as_result(record).expected is None


@pytest.fixture
def lean(made, make_result, rows):
    """The smallest record that is complete."""
    run = {"as it is": make_result(rows=[rows["injection"], rows["column"]])}
    return tree_of(replace(made, expected=None), PROVENANCE, states=run)


def refused(path):
    with pytest.raises(RecordError) as caught:
        read_record(path, "tailrace improvement")
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_what_is_no_improvement_is_refused(lean, tmp_path):
    assert "found nothing" in refused(tmp_path / "none.h5")
    (tmp_path / "text.h5").write_text("x")
    assert "found another kind of file" in refused(tmp_path / "text.h5")
    write_record(tmp_path / "cut.h5", lean)
    content = (tmp_path / "cut.h5").read_bytes()
    (tmp_path / "cut.h5").write_bytes(content[: len(content) // 2])
    assert "found a damaged one" in refused(tmp_path / "cut.h5")
    lean.attrs["layout"] = 1
    write_record(tmp_path / "old.h5", lean)
    assert "found layout 1" in refused(tmp_path / "old.h5")


@pytest.mark.parametrize(
    ("group", "harm", "text"),
    [
        ("changes", lambda rows: rows.drop_vars("cost"), "(cost)"),
        ("steps", lambda rows: rows.drop_vars("gain"), "(gain)"),
        ("/", lambda root: root.drop_vars("outcome"), "(outcome)"),
        ("changes", lambda rows: rows.assign(needs=("change", ["(("] * 4)), "Expecting value"),
    ],
)
def test_a_record_that_lacks_something_is_refused(lean, tmp_path, group, harm, text):
    del lean["states"]
    lean[group].dataset = harm(lean[group].to_dataset(inherit=False))
    write_record(tmp_path / "less.h5", lean)
    reported = refused(tmp_path / "less.h5")
    assert "found a damaged one" in reported
    assert text in reported


def test_a_record_without_its_states_is_refused(lean, tmp_path):
    del lean["states"]
    write_record(tmp_path / "less.h5", lean)
    assert "found a damaged one (states)" in refused(tmp_path / "less.h5")
    lean.attrs |= {"code_sha256": "0", "version": "9.9"}
    write_record(tmp_path / "other.h5", lean)
    assert "found one of version 9.9 (states); read it with" in refused(tmp_path / "other.h5")
