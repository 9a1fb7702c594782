"""The folder of what is done: whose it is, and that nothing of another study gets into it."""

from dataclasses import dataclass, field
from types import SimpleNamespace

import numpy as np
import pytest

from tailrace.errors import TailraceError
from tailrace.records.blocks import MANIFEST, KeptBatches, KeptBlocks


@dataclass
class Batch:
    name: str = "draws-000"
    question: dict = field(default_factory=lambda: {"fingerprint": "00"})
    journeys: object = field(default_factory=lambda: SimpleNamespace(blocks=((0,), (1,))))


FIGURES = {"recorded/plates": np.array([1.0, np.nan]), "warnings": np.array(["", "a line"])}


@pytest.fixture
def file(tmp_path):
    return tmp_path / "study.h5"


def question(**asked):
    return SimpleNamespace(
        question={"scenario_sha256": "00", "seed": 1, "maps": ("a", "b"), **asked}
    )


def test_blocks_of_a_batch_are_read_as_they_were_written(file):
    KeptBatches(file, question(), "1")(Batch()).write(1, FIGURES)
    again = KeptBatches(file, question(), "1")(Batch())
    assert again.read(0) is None
    back = again.read(1)
    assert back.keys() == FIGURES.keys()
    for name, values in FIGURES.items():
        np.testing.assert_array_equal(back[name], values)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"scenario_sha256": "01"}, "expected the scenario that"),
        ({"seed": 2}, "expected the choice of seed that"),
        ({"maps": ("a", "c")}, "expected the choice of maps that"),
    ],
)
def test_another_question_is_refused_and_nothing_is_lost(file, asked, said):
    kept = KeptBatches(file, question(), "1")
    kept(Batch()).write(0, FIGURES)
    with pytest.raises(TailraceError, match=said):
        KeptBatches(file, question(**asked), "1")
    assert kept(Batch()).read(0) is not None


def test_a_batch_of_other_journeys_is_refused(file):
    kept = KeptBatches(file, question(), "1")
    kept(Batch())
    with pytest.raises(TailraceError, match="the injected signal and the numbers"):
        kept(Batch(question={"fingerprint": "01"}))


def test_removing_leaves_nothing_but_what_is_not_ours(file):
    kept = KeptBatches(file, question(), "1")
    kept(Batch()).write(0, FIGURES)
    kept(Batch(name="indices")).write(0, FIGURES)
    (kept.folder / "thesis.txt").write_text("years of work")
    kept.remove()
    assert [one.name for one in kept.folder.rglob("*")] == ["thesis.txt"]
    with pytest.raises(TailraceError, match="found other files"):
        KeptBatches(file, question(), "1")


def test_killed_while_removing_no_block_is_left_without_its_manifest(file, monkeypatch):
    kept = KeptBlocks(file, Batch(), "1")
    for index in range(2):
        kept.write(index, FIGURES)
    gone = []

    def unlink(path, missing_ok):
        gone.append(path.name)

    monkeypatch.setattr(type(file), "unlink", unlink)
    monkeypatch.setattr(type(file), "rmdir", lambda path: None)
    kept.remove()
    assert gone[-1] == MANIFEST
    assert len(gone) == 3
