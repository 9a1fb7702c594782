"""The seal of a record: whatever is altered in it is noticed."""

import io
import random

import h5py
import numpy as np
import pytest

from tailrace.records.provenance import Provenance
from tailrace.records.record import as_provenance, as_record
from tailrace.records.seal import check_seal, seal_of, write_seal
from tailrace.records.store import RecordError, read_record, write_record

FILES = {"inlet.csv": b"0,0\n1,1\n2,0\n", "folder/any name": bytes(range(256))}
PROVENANCE = Provenance(
    title="t", scenario_sha256="00", scenario="x = 1\n", version="0.1.0", files=FILES
)


@pytest.fixture(scope="module")
def record(make_result, rows):
    few = [rows[name] for name in ("injection", "column", "detector")]
    return as_record(make_result(rows=few), PROVENANCE)


@pytest.fixture(scope="module")
def content(record, tmp_path_factory):
    """Bytes of the file."""
    path = tmp_path_factory.mktemp("record") / "record.h5"
    write_record(path, record)
    return path.read_bytes()


@pytest.fixture
def path(content, tmp_path):
    (tmp_path / "record.h5").write_bytes(content)
    return tmp_path / "record.h5"


def held(path):
    """Every variable and attribute of a record: (name of its holder, name of the attribute)."""
    with h5py.File(path) as file:
        names = ["/"]
        file.visit(names.append)
        found = [(name, None) for name in names if isinstance(file[name], h5py.Dataset)]
        return found + [(name, one) for name in names for one in file[name].attrs]


def test_data_files_come_back_as_they_were(path):
    assert as_provenance(read_record(path)).files == FILES


def test_every_variable_and_attribute_counts(path):
    with h5py.File(path) as file:
        content = path.read_bytes()
        seal = file.attrs["seal"]
    assert check_seal(path) == seal
    for name, attribute in random.Random(2).sample(held(path), 20):
        with h5py.File(io.BytesIO(content), "a") as file:
            if attribute is not None:
                del file[name].attrs[attribute]
            elif not nudged(file[name]):
                continue
            assert seal_of(file) != seal, (name, attribute)


def nudged(variable):
    """Change one value by as little as can be; whether there was one."""
    values = variable[()]
    if variable.dtype.kind not in "fiu" or not np.size(values):
        return False
    flat = np.atleast_1d(values).copy()
    raw = flat.view(np.uint8)
    raw.flat[random.Random(variable.name).randrange(raw.size)] ^= 1
    variable[()] = flat.reshape(np.shape(values))
    return True


def test_any_byte_of_the_file(path):
    """An altered byte is noticed, or touches nothing that the record holds (a free block)."""
    content, random_ = path.read_bytes(), random.Random(1)
    seal, record = check_seal(path), read_record(path)
    noticed = 0
    for place in random_.sample(range(len(content)), 30):
        altered = bytearray(content)
        altered[place] ^= 1 << random_.randrange(8)
        # a name of its own: HDF5 remembers what stood in a file that it has open
        other = path.with_name(f"{place}.h5")
        other.write_bytes(altered)
        try:
            found = read_record(other)
        except RecordError:
            noticed += 1
        else:
            assert check_seal(other) == seal
            assert found.identical(record)
    assert noticed > 10


@pytest.mark.parametrize("act", ["group", "variable", "link", "soft"])
def test_what_is_added_is_noticed(path, act):
    with h5py.File(path, "a") as file:
        if act == "group":
            file.create_group("more")
        elif act == "variable":
            file["parts/more"] = 1.0
        elif act == "link":
            file["parts/loop"] = file["/"]
        else:
            file["parts/soft"] = h5py.SoftLink("/recorded")
    with pytest.raises(RecordError, match="altered"):
        read_record(path)


def test_a_loop_of_links_and_thousands_of_groups_end_at_once(path):
    with h5py.File(path, "a") as file:
        file["parts/loop"] = file["parts"]
        for number in range(3000):
            file.create_group(f"more/{number}")
    # it used to go round for ever
    with pytest.raises(RecordError, match="twice"):
        read_record(path)
    with pytest.raises(Exception, match="twice"):
        write_seal(path)


def test_how_values_are_packed_does_not_count(path, record, tmp_path, monkeypatch):
    monkeypatch.setattr("tailrace.records.tree.PACKED_FROM", 1)
    write_record(tmp_path / "other.h5", record.copy())
    assert (tmp_path / "other.h5").read_bytes() != path.read_bytes()
    assert check_seal(tmp_path / "other.h5") == check_seal(path)
