"""Single alterations of a record, of a study that is kept, of signatures: every one is noticed."""

import random
import shutil
from dataclasses import dataclass

import h5py
import numpy as np
import pytest

from tailrace.errors import TailraceError
from tailrace.records.checkpoint import Checkpoint
from tailrace.records.envelope import envelope_of, signatures_of, signed
from tailrace.records.provenance import Provenance
from tailrace.records.record import as_record
from tailrace.records.store import RecordError, read_record, write_record

FILES = {"inlet.csv": b"0,0\n1,1\n2,0\n"}
COUNTS = pytest.mark.parametrize("count", [12, pytest.param(200, id="many")])


@pytest.fixture
def record(result, tmp_path):
    path = tmp_path / "record.h5"
    about = Provenance(title="t", scenario_sha256="0", scenario="x", version="1", files=FILES)
    write_record(path, as_record(result, about))
    return path


def flipped(content, draw):
    altered = bytearray(content)
    altered[draw.randrange(len(altered))] ^= 1 << draw.randrange(8)
    return bytes(altered)


def other_text(text, draw):
    """With another character, or one more."""
    place = draw.randrange(len(text) + 1)
    return text[:place] + chr(draw.randrange(33, 127)) + text[place:]


def alter(file, draw):
    """One alteration of an open record; what was done."""
    names = ["/"]
    file.visit(names.append)
    variables = [one for one in names if isinstance(file[one], h5py.Dataset) and file[one].size]
    act = draw.choice(["value", "value", "attribute", "no attribute", "no variable", "renamed"])
    if act in ("attribute", "no attribute"):
        own = ("DIMENSION_LIST", "REFERENCE_LIST")  # HDF5 itself keeps these, as references
        name = draw.choice([one for one in names if {*file[one].attrs} - {*own}])
        key = draw.choice(sorted({*file[name].attrs} - {*own}))
        value = file[name].attrs[key]
        if act == "no attribute":
            del file[name].attrs[key]
        elif isinstance(value, str):
            file[name].attrs[key] = other_text(value, draw)
        else:
            raw = np.atleast_1d(value)
            file[name].attrs[key] = np.frombuffer(flipped(raw.tobytes(), draw), raw.dtype)
        return act, name, key
    name = draw.choice(variables)
    variable = file[name]
    if act == "no variable":
        del file[name]
    elif act == "renamed":
        file.move(name, f"{name}x")
    elif variable.dtype.kind == "O":
        texts = variable.asstr()[()]
        flat = np.atleast_1d(texts).copy()
        place = draw.randrange(flat.size)
        flat.flat[place] = other_text(str(flat.flat[place]), draw)
        variable[()] = flat.reshape(np.shape(texts))
    else:
        values = np.asarray(variable[()])
        raw = np.frombuffer(flipped(values.tobytes(), draw), values.dtype)
        variable[()] = raw.reshape(values.shape)
    return act, name, ""


@COUNTS
def test_of_a_record(record, tmp_path, count):
    draw = random.Random(count)
    for number in range(count):
        # a name of its own: HDF5 remembers what stood in a file that it has open
        path = tmp_path / f"{number}.h5"
        shutil.copy(record, path)
        with h5py.File(path, "r+") as file:
            done = alter(file, draw)
        with pytest.raises(RecordError):
            pytest.fail(f"{done} was not noticed: {read_record(path)}")
        path.unlink()


@dataclass
class Batch:
    name: str = "samples-000"
    fingerprint: str = "00"
    blocks: tuple = ((0,), (1,))


@COUNTS
def test_of_a_study_that_is_kept(tmp_path, count):
    draw, question, batch = random.Random(count), {"scenario_sha256": "00", "seed": 1}, Batch()
    file = tmp_path / "study.h5"
    kept = Checkpoint(file, question)
    kept.stored(batch)
    for block in range(2):
        kept.write(batch, block, {"recorded/plates": np.arange(4.0) + block, "w": np.array(["a"])})
    files = sorted(kept.folder.iterdir())
    assert len(files) == 4
    for _ in range(count):
        one = draw.choice(files)
        content = one.read_bytes()
        act = draw.choice(["byte", "byte", "byte", "cut", "longer", "another"])
        altered = {
            "byte": lambda content=content: flipped(content, draw),
            "cut": lambda content=content: content[: draw.randrange(len(content))],
            "longer": lambda content=content: content + bytes([draw.randrange(256)]),
            "another": lambda one=one: draw.choice([f for f in files if f != one]).read_bytes(),
        }[act]()
        one.write_bytes(altered)
        try:
            found = Checkpoint(file, question).stored(batch)
        except TailraceError:
            pass
        else:
            assert sum(row is None for row in found) == 1, (one.name, act)
        one.write_bytes(content)
    assert None not in Checkpoint(file, question).stored(batch)


@COUNTS
def test_of_signatures(record, count):
    draw, file = random.Random(count), envelope_of(record)
    for name in ("A. Person", "B. Person"):
        file.write_bytes(signed(record, name, "release", "approver", "2026-05-04T09:30:00+00:00"))
    content = file.read_bytes()
    assert len(signatures_of(record)) == 2
    for _ in range(count):
        file.write_bytes(flipped(content, draw))
        with pytest.raises(TailraceError):
            pytest.fail(f"not noticed: {signatures_of(record)}")
