"""What is done of a study that is not finished: a folder of blocks, so that it can go on."""

import contextlib
import json
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from tailrace.errors import TailraceError
from tailrace.records.store import replacing, write_bytes
from tailrace.studies.batch import Batch, Metrics

MANIFEST = "manifest.json"
LAYOUT = 2
"""Raised by one when blocks of an older version would be misread."""
WHAT = {
    "layout": "the layout of blocks",
    "version": "the version of tailrace",
    "scenario_sha256": "the scenario",
    "axes": "the fields and values",
    "together": "the choice of --together",
    "fingerprint": "the injected signal and the numbers",
}
"""What must not change while a study waits, in words."""


class Checkpoint:
    """The folder ``FILE.h5.parts`` beside the file that a study will be.

    Every file in it is complete or not there, whenever the study is stopped: what was asked, for
    each batch what it starts from, and a file for each block that is done. ``file``: the study's
    file; ``question``: what must not change while the study waits, in the order in which it is
    looked at; ``version``: of tailrace. Raises TailraceError where the folder holds blocks of
    another study, or is not ours. Raises OSError where it cannot be made or written.
    """

    def __init__(self, file: str | Path, question: Mapping[str, Any], version: str) -> None:
        file = Path(file)
        self.folder = file.with_name(f"{file.name}.parts")
        self.folder.mkdir(exist_ok=True)
        manifest = self.folder / MANIFEST
        if not manifest.exists() and not all(map(_ours, self.folder.iterdir())):
            raise TailraceError(
                f"{self.folder}: expected blocks of a study, found other files; rename the folder "
                "or write to another file"
            )
        self._agree(manifest, {"layout": LAYOUT, "version": version, **question})

    def stored(self, batch: Batch) -> list[Metrics | None]:
        """Metrics of each block of a batch; None where it is not done, or damaged.

        Raises TailraceError where a batch of this name started from other numbers.
        """
        self._agree(self.folder / f"batch-{batch.name}.json", {"fingerprint": batch.fingerprint})
        return [self._read(batch, block) for block in range(len(batch.blocks))]

    def write(self, batch: Batch, block: int, metrics: Metrics) -> None:
        """Store a block, by its number."""
        # A slash in a name would be a folder in the archive.
        named = {name.replace("/", "|"): values for name, values in metrics.items()}
        with replacing(self._file(batch, block)) as aside, aside.open("wb") as stream:
            np.savez(stream, **named)  # type: ignore[arg-type]

    def remove(self) -> None:
        """Delete the folder; for when the study's own file is written.

        What blocks are of goes after them, and the question last: killed on the way, no block is
        left that does not say whose it is. A file of someone else stays, and the folder with it.
        """
        for one in sorted(self.folder.iterdir(), key=lambda one: _rank(one.name)):
            if _ours(one):
                one.unlink(missing_ok=True)
        with contextlib.suppress(OSError):
            self.folder.rmdir()

    def _read(self, batch: Batch, block: int) -> Metrics | None:
        try:
            # Opened here: of a damaged file, numpy would leave the handle open.
            with (
                self._file(batch, block).open("rb") as stream,
                np.load(stream, allow_pickle=False) as stored,
            ):
                return {name.replace("|", "/"): stored[name] for name in stored.files}
        except (OSError, ValueError, EOFError, KeyError, zipfile.BadZipFile):
            return None

    def _file(self, batch: Batch, block: int) -> Path:
        return self.folder / f"block-{batch.name}-{block:05d}.npz"

    def _agree(self, file: Path, manifest: dict[str, Any]) -> None:
        """Write what is begun, or compare it with what was begun."""
        if not file.exists():
            write_bytes(file, json.dumps(manifest, indent=1).encode())
            return
        try:
            stored = json.loads(file.read_text("utf-8"))
        except ValueError:
            stored = None
        if not isinstance(stored, dict):
            raise TailraceError(
                f"{file}: expected what the study was begun with, found a damaged file; delete the "
                "folder to begin anew"
            )
        # As it comes back from the file: a tuple has become a list.
        for key, value in json.loads(json.dumps(manifest)).items():
            if stored.get(key) != value:
                what = WHAT.get(key, f"the choice of {key}")
                raise TailraceError(
                    f"{self.folder}: expected {what} that this study was begun with, found "
                    "another; go back to it, name another file, or delete the folder to begin anew"
                )


def _rank(name: str) -> int:
    return 2 if name == MANIFEST else 1 if name.startswith("batch-") else 0


def _ours(path: Path) -> bool:
    return (
        path.name == MANIFEST
        or (path.name.startswith("batch-") and path.suffix == ".json")
        or (path.name.startswith("block-") and path.suffix == ".npz")
        or (path.name.startswith(".") and path.suffix == ".unfinished")
    )
