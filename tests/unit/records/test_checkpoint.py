"""The folder of what is done: whose it is, and that nothing of another study gets into it."""

import hashlib
import io
import signal
import zipfile
from dataclasses import dataclass

import numpy as np
import pytest

from tailrace.errors import TailraceError
from tailrace.records.checkpoint import DIGEST, MANIFEST, Checkpoint


@dataclass
class Batch:
    name: str = "draws-000"
    fingerprint: str = "00"
    blocks: tuple = ((0,), (1,))


METRICS = {"recorded/plates": np.array([1.0, np.nan]), "warnings": np.array(["", "a line"])}


@pytest.fixture
def file(tmp_path):
    return tmp_path / "study.h5"


def question(**asked):
    return {"scenario_sha256": "00", "seed": 1, "maps": ("a", "b"), **asked}


def test_blocks_of_a_batch_are_read_as_they_were_written(file):
    Checkpoint(file, question()).write(Batch(), 1, METRICS)
    nothing, back = Checkpoint(file, question()).stored(Batch())
    assert nothing is None
    assert back.keys() == METRICS.keys()
    for name, values in METRICS.items():
        np.testing.assert_array_equal(back[name], values)


@pytest.mark.parametrize(
    ("asked", "text"),
    [
        ({"scenario_sha256": "01"}, "expected the scenario that"),
        ({"seed": 2}, "expected the choice of seed that"),
        ({"maps": ("a", "c")}, "expected the choice of maps that"),
    ],
)
def test_another_question_is_refused_and_nothing_is_lost(file, asked, text):
    checkpoint = Checkpoint(file, question())
    checkpoint.write(Batch(), 0, METRICS)
    with pytest.raises(TailraceError, match=text):
        Checkpoint(file, question(**asked))
    assert checkpoint.stored(Batch())[0] is not None


def test_a_batch_of_other_journeys_is_refused(file):
    checkpoint = Checkpoint(file, question())
    checkpoint.stored(Batch())
    with pytest.raises(TailraceError, match="the injected signal and the numbers"):
        checkpoint.stored(Batch(fingerprint="01"))


def test_removing_leaves_nothing_but_what_is_not_ours(file):
    checkpoint = Checkpoint(file, question())
    for batch in (Batch(), Batch(name="indices")):
        checkpoint.stored(batch)
        checkpoint.write(batch, 0, METRICS)
    (checkpoint.folder / "thesis.txt").write_text("years of work")
    checkpoint.remove()
    assert [one.name for one in checkpoint.folder.rglob("*")] == ["thesis.txt"]
    with pytest.raises(TailraceError, match="found other files"):
        Checkpoint(file, question())


def test_killed_while_removing_no_block_is_left_without_what_it_is_of(file, monkeypatch):
    checkpoint = Checkpoint(file, question())
    checkpoint.stored(Batch())
    for block in range(2):
        checkpoint.write(Batch(), block, METRICS)
    gone = []
    monkeypatch.setattr(type(file), "unlink", lambda path, missing_ok: gone.append(path.name))
    monkeypatch.setattr(type(file), "rmdir", lambda path: None)
    checkpoint.remove()
    assert gone[-2:] == ["batch-draws-000.json", MANIFEST]
    assert len(gone) == 4


def test_another_process_that_ended_in_the_same_folder_is_named(file):
    one, other = (Checkpoint(file, question()) for _ in range(2))
    for checkpoint in (one, other):
        checkpoint.stored(Batch())
        checkpoint.write(Batch(), 0, METRICS)
    one.remove()
    with pytest.raises(TailraceError, match="another process"):
        other.write(Batch(), 1, METRICS)
    with pytest.raises(TailraceError, match="another process"):
        other.stored(Batch())
    other.remove()


@pytest.mark.parametrize("act", ["swapped", "of another study", "a scalar", "one value"])
def test_a_block_that_is_not_the_one_that_was_stored_is_computed_again(file, tmp_path, act):
    checkpoint = Checkpoint(file, question())
    checkpoint.stored(Batch())
    first, second = (checkpoint.folder / f"block-draws-000-{one:05d}.npz" for one in range(2))
    checkpoint.write(Batch(), 0, METRICS)
    checkpoint.write(Batch(), 1, METRICS)
    if act == "swapped":
        content = first.read_bytes()
        first.write_bytes(second.read_bytes())
        second.write_bytes(content)
    elif act == "of another study":
        other = Checkpoint(tmp_path / "other.h5", question(seed=2))
        other.stored(Batch())
        other.write(Batch(), 0, METRICS)
        first.write_bytes((other.folder / first.name).read_bytes())
    else:
        with np.load(io.BytesIO(first.read_bytes()[DIGEST:])) as stored:
            named = {name: stored[name] for name in stored.files}
        named["recorded|plates"] = named["recorded|plates"] + 1 if act == "one value" else 1.0
        packed = io.BytesIO()
        np.savez(packed, **named)
        content = packed.getvalue()
        first.write_bytes(hashlib.sha256(content).digest() + content)
    assert checkpoint.stored(Batch())[0] is None


@pytest.mark.parametrize("name", [MANIFEST, "batch-draws-000.json"])
def test_what_a_study_was_begun_with_is_not_altered_unseen(file, name):
    checkpoint = Checkpoint(file, question())
    checkpoint.stored(Batch())
    content = (checkpoint.folder / name).read_bytes()
    for place in range(len(content)):
        altered = bytearray(content)
        altered[place] ^= 1
        (checkpoint.folder / name).write_bytes(altered)
        with pytest.raises(TailraceError):
            Checkpoint(file, question()).stored(Batch())
    (checkpoint.folder / name).write_bytes(content)
    Checkpoint(file, question()).stored(Batch())


def test_other_code_does_not_go_on(file, monkeypatch):
    Checkpoint(file, question())
    monkeypatch.setattr("tailrace.records.checkpoint.code_sha256", lambda: "other")
    with pytest.raises(TailraceError, match="the code of tailrace"):
        Checkpoint(file, question())


def test_a_block_for_which_the_disk_has_no_room_is_kept_in_memory(file, monkeypatch):
    """What is computed is not lost, nor what would be computed behind it."""

    def full(path, content):
        raise OSError(28, "No space left on device")

    checkpoint = Checkpoint(file, question())
    checkpoint.write(Batch(), 0, METRICS)
    monkeypatch.setattr("tailrace.records.checkpoint.write_bytes", full)
    checkpoint.write(Batch(), 1, METRICS)
    for back in checkpoint.stored(Batch()):
        for name, values in METRICS.items():
            np.testing.assert_array_equal(back[name], values)
    monkeypatch.undo()
    stored, gone = Checkpoint(file, question()).stored(Batch())
    assert stored is not None
    assert gone is None


def test_an_interrupt_while_a_block_is_packed_is_an_interrupt(file, monkeypatch):
    """An archive that was being opened says, as it is closed, that something is open."""
    opened = zipfile._ZipWriteFile.__init__

    def interrupted(*given):
        signal.raise_signal(signal.SIGINT)
        opened(*given)

    monkeypatch.setattr(zipfile._ZipWriteFile, "__init__", interrupted)
    was = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        with pytest.raises(KeyboardInterrupt):
            Checkpoint(file, question()).write(Batch(), 0, METRICS)
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, was)
