"""Records on disk: the same bytes, whole or not at all, and clear words about other files."""

import os
import subprocess
import sys
import time
from dataclasses import replace
from types import SimpleNamespace

import h5py
import numpy as np
import pytest
import xarray

from tailrace.journey.result import PartResult
from tailrace.quantities.described import descriptions
from tailrace.records import store
from tailrace.records.layout import hints_of
from tailrace.records.provenance import Provenance
from tailrace.records.record import FIELDS, as_record, fields_sha256
from tailrace.records.seal import seal_of
from tailrace.records.store import RecordError, read_record, write_record

PROVENANCE = Provenance(title="t", scenario_sha256="00", scenario="x = 1\n", version="0.1.0")


@pytest.fixture
def record(result):
    return as_record(result, PROVENANCE)


@pytest.fixture(scope="module")
def content(make_result, tmp_path_factory):
    """Bytes of the same record, written once."""
    path = tmp_path_factory.mktemp("record") / "record.h5"
    write_record(path, as_record(make_result(), PROVENANCE))
    return path.read_bytes()


@pytest.fixture
def stored(content, tmp_path):
    path = tmp_path / "record.h5"
    path.write_bytes(content)
    return path


def test_two_writes_give_the_same_bytes(record, content, tmp_path):
    # HDF5 keeps times in whole seconds where it keeps them.
    time.sleep(1.1)
    write_record(tmp_path / "other.h5", record)
    assert content == (tmp_path / "other.h5").read_bytes()


def test_no_command_is_named_twice_where_there_is_no_record(tmp_path):
    with pytest.raises(RecordError, match="found nothing") as told:
        read_record(tmp_path / "none.h5")
    assert str(told.value).count("`improve --out`") == 1


def test_what_is_read_is_what_xarray_opens(stored):
    read = read_record(stored)
    with xarray.open_datatree(stored, engine="h5netcdf") as opened:
        xarray.testing.assert_identical(read, opened.load())
    for one, other in zip(read.subtree, opened.subtree, strict=True):
        assert [*one.variables] == [*other.variables]
        assert [*one.attrs] == [*other.attrs]


def test_it_is_written_as_xarray_would(record, stored, tmp_path):
    record.to_netcdf(tmp_path / "other.h5", engine="h5netcdf")
    with h5py.File(stored) as one, h5py.File(tmp_path / "other.h5") as other:
        assert seal_of(one) == seal_of(other)


def test_another_process_gives_the_same_bytes(stored, tmp_path):
    code = (
        "import sys; from tailrace.records.store import read_record, write_record;"
        "write_record(sys.argv[2], read_record(sys.argv[1]))"
    )
    arguments = [sys.executable, "-c", code, stored.name, "again.h5"]
    seed = "1" if os.environ.get("PYTHONHASHSEED") != "1" else "2"
    environment = {**os.environ, "PYTHONHASHSEED": seed}
    subprocess.run(arguments, cwd=tmp_path, check=True, env=environment)
    assert (tmp_path / "again.h5").read_bytes() == stored.read_bytes()


def test_a_large_record_is_written_straight_to_the_disk(record, tmp_path, monkeypatch):
    monkeypatch.setattr(store, "LARGE", 0)
    for name in ("one.h5", "other.h5"):
        write_record(tmp_path / name, record)
    xarray.testing.assert_identical(read_record(tmp_path / "other.h5"), record)
    assert (tmp_path / "one.h5").read_bytes() == (tmp_path / "other.h5").read_bytes()
    monkeypatch.setattr(store.shutil, "disk_usage", lambda _: SimpleNamespace(free=10))
    with pytest.raises(OSError, match="space"):
        write_record(tmp_path / "none.h5", record)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["one.h5", "other.h5"]


def test_what_is_read_is_identical(record, stored):
    read = read_record(stored)
    record.attrs["seal"] = read.attrs["seal"]
    xarray.testing.assert_identical(read, record)


def test_xarray_alone_opens_it(stored):
    with xarray.open_datatree(stored) as tree:
        peak = tree["parts/007 detector/band"]
        assert peak["values"].attrs["units"] == "1/s"
        assert peak["time"].dims == ("solute", "sample")
        assert list(peak["solute"].values) == ["cohumulone"]


def test_h5py_alone_reads_the_numbers(result, stored):
    with h5py.File(stored) as file:
        found = file["parts/variance_simulated"]
        expected = [part.variance_simulated for part in result.parts]
        np.testing.assert_array_equal(found[()], expected)
        assert found.attrs["units"] == "s^2"


def other_file(path, kind):
    if kind == "folder":
        path.mkdir()
    elif kind == "text":
        path.write_text("not a record")
    elif kind == "empty":
        path.write_bytes(b"")
    elif kind == "other origin":
        with h5py.File(path, "w") as file:
            file["x"] = 1.0


@pytest.mark.parametrize("kind", ["missing", "folder", "text", "empty", "other origin"])
def test_a_file_that_is_no_record(tmp_path, kind):
    path = tmp_path / "record.h5"
    other_file(path, kind)
    with pytest.raises(RecordError, match="expected a record") as caught:
        read_record(path)
    assert str(path) in str(caught.value)
    assert "found" in str(caught.value)
    assert caught.value.exit_code == 2


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.99])
def test_a_record_cut_short(content, stored, share):
    stored.write_bytes(content[: int(share * len(content))])
    with pytest.raises(RecordError, match="damaged"):
        read_record(stored)


def test_a_record_of_another_layout(record, tmp_path):
    record.attrs["layout"] = 99
    write_record(tmp_path / "record.h5", record)
    with pytest.raises(RecordError, match="found layout 99"):
        read_record(tmp_path / "record.h5")


def test_a_group_is_missing(record, tmp_path):
    del record["parts"]
    write_record(tmp_path / "record.h5", record)
    with pytest.raises(RecordError, match="damaged"):
        read_record(tmp_path / "record.h5")


def test_fields_do_not_change_without_the_layout():
    """Changed on purpose: raise LAYOUT by one, and write the new hash into FIELDS."""
    assert fields_sha256() == FIELDS, "a field of a record has changed: raise LAYOUT"


@pytest.mark.parametrize("change", ["one more", "gone", "another unit", "may be missing"])
def test_every_change_of_a_field_is_seen(change, monkeypatch):
    before = fields_sha256()
    rows = dict(descriptions(PartResult))
    if change == "one more":
        rows["more"] = rows["volume"]
        monkeypatch.setattr(
            "tailrace.records.record.hints_of",
            lambda kind: hints_of(kind) | {"more": (float, False)},
        )
    elif change == "gone":
        del rows["volume"]
    elif change == "another unit":
        rows["volume"] = replace(rows["volume"], unit="uL")
    else:
        monkeypatch.setattr(
            "tailrace.records.record.hints_of",
            lambda kind: {name: (one, True) for name, (one, _) in hints_of(kind).items()},
        )
    monkeypatch.setattr(
        "tailrace.records.record.descriptions",
        lambda kind: rows if kind is PartResult else descriptions(kind),
    )
    assert fields_sha256() != before
