"""A result laid out as a tree: nothing is lost, and every variable says what it is."""

from dataclasses import fields

import numpy as np
import pytest

from tailrace.journey.result import PartResult
from tailrace.measures import METRICS
from tailrace.records.provenance import Provenance
from tailrace.records.record import as_provenance, as_record, as_result
from tailrace.records.store import read_record, write_record

PROVENANCE = Provenance(
    title="Hop acids, 35 °C",
    scenario_sha256="ab" * 32,
    scenario='title = "Hop acids, 35 °C"\n',
    version="0.1.0",
    assumptions=("column: total porosity 0.52", "detector: none given"),
)


def equal_figures(one, other):
    return one.keys() == other.keys() and all(
        np.array_equal(one[name], other[name], equal_nan=True) for name in one
    )


def equal_bands(one, other):
    return all(
        np.array_equal(getattr(one, name), getattr(other, name))
        for name in ("values", "start", "step")
    )


def equal_parts(one, other):
    for field in fields(PartResult):
        mine, theirs = getattr(one, field.name), getattr(other, field.name)
        if field.name == "band":
            same = equal_bands(mine, theirs)
        elif isinstance(mine, str):
            same = mine == theirs
        else:
            same = np.array_equal(mine, theirs, equal_nan=True)
        if not same:
            return False
    return True


@pytest.mark.parametrize("lanes", [("cohumulone",), ("a", "b/c", "µ-acid")])
def test_a_stored_result_comes_back_equal(make_result, tmp_path, lanes):
    result = make_result(lanes=lanes, warnings=("first", "second"))
    write_record(tmp_path / "record.h5", as_record(result, PROVENANCE))
    record = read_record(tmp_path / "record.h5")
    assert as_provenance(record) == PROVENANCE
    back = as_result(record)
    assert back.lanes == result.lanes
    assert back.warnings == result.warnings
    assert len(back.parts) == len(result.parts)
    assert all(map(equal_parts, back.parts, result.parts))
    assert equal_figures(back.recorded, result.recorded)
    assert equal_figures(back.numerical_error, result.numerical_error)
    assert equal_figures(back.column_alone, result.column_alone)
    assert equal_bands(back.column_band, result.column_band)
    assert back.pressure == result.pressure


def test_a_path_without_column_detector_or_cell(make_result, rows, tmp_path):
    result = make_result(rows=[rows["injection"], rows["needle seat"]])
    write_record(tmp_path / "record.h5", as_record(result, PROVENANCE))
    record = read_record(tmp_path / "record.h5")
    back = as_result(record)
    assert "column_alone" not in record.children
    assert back.column_alone is None
    assert back.column_band is None
    assert np.isnan(back.pressure.cell_inlet)
    assert back.warnings == ()


def test_a_part_may_have_any_name(make_result, rows, tmp_path):
    names = ["a/b", "..", ".", " ", "Säule №1", "recorded", "x" * 300]
    path = [(name, *rows["needle seat"][1:]) for name in names]
    write_record(
        tmp_path / "record.h5",
        as_record(make_result(rows=[rows["injection"], *path]), PROVENANCE),
    )
    back = as_result(read_record(tmp_path / "record.h5"))
    assert [part.name for part in back.parts[1:]] == names


def test_more_than_nine_parts_keep_their_order(make_result, rows):
    path = [(f"tube {k}", *rows["needle seat"][1:]) for k in range(12)]
    result = make_result(rows=[rows["injection"], *path])
    back = as_result(as_record(result, PROVENANCE))
    assert [part.name for part in back.parts] == [part.name for part in result.parts]
    assert all(map(equal_parts, back.parts, result.parts))


def test_every_variable_has_a_unit_and_a_meaning(result):
    record = as_record(result, PROVENANCE)
    for group in record.subtree:
        for name, variable in group.dataset.variables.items():
            assert variable.attrs["long_name"], f"{group.path}/{name}"
            assert "units" in variable.attrs, f"{group.path}/{name}"
            if variable.dtype.kind == "f":
                assert variable.attrs["units"], f"{group.path}/{name}"


def test_every_figure_of_the_contract_is_described(result):
    assert set(result.recorded) <= set(METRICS)


def test_a_record_names_no_time_and_no_host(result):
    expected = {"kind", "layout", "title", "version", "scenario_sha256", "scenario"}
    expected |= {"assumptions", "libraries", "code_sha256", "options"}
    assert set(as_record(result, PROVENANCE).attrs) == expected


def test_a_result_is_handed_through(result):
    assert as_result(result) is result
