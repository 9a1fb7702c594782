"""What is done of a study that is not finished: a folder of blocks, so that it can go on."""

import contextlib
import hashlib
import io
import json
import signal
import threading
import zipfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from tailrace.errors import TailraceError
from tailrace.identity import code_sha256
from tailrace.records.provenance import libraries
from tailrace.records.store import write_bytes
from tailrace.studies.batch import Batch, Metrics

MANIFEST = "manifest.json"
OF = "of"
"""Name within a block of the hash that ties it to its study, batch and place."""
DIGEST = 32
"""Bytes before a block: the SHA-256 of what follows, so that no byte is altered unseen."""
LAYOUT = 4
"""Raised by one when blocks of an older version would be misread."""
WHAT = {
    "layout": "the layout of blocks",
    "code": "the code of tailrace",
    "libraries": "the versions of Python and its libraries",
    "scenario_sha256": "the scenario",
    "axes": "the fields and values",
    "together": "the choice of --together",
    "fingerprint": "the injected signal and the numbers",
}
"""What must not change while a study waits, in words."""


class Blocks(Sequence[Metrics | None]):
    """Blocks that are read when they are asked for."""

    def __init__(self, count: int, read: Callable[[int], Metrics | None]) -> None:
        self._count, self._read = count, read

    def __len__(self) -> int:
        """How many there are."""
        return self._count

    def __getitem__(self, block: Any) -> Any:
        """One of them."""
        return self._read(range(self._count)[block])


class Checkpoint:
    """The folder ``FILE.h5.parts`` beside the file that a study will be.

    Every file in it is complete or not there, whenever the study is stopped: what was asked, for
    each batch what it starts from, and a file for each block that is done. ``file``: the study's
    file; ``question``: what must not change while the study waits, in the order in which it is
    looked at. Raises TailraceError where the folder holds blocks of
    another study, or is not ours. Raises OSError where it cannot be made or written.
    """

    def __init__(self, file: str | Path, question: Mapping[str, Any]) -> None:
        file = Path(file)
        self.folder = file.with_name(f"{file.name}.parts")
        self._kept = dict[Path, bytes]()
        self.folder.mkdir(exist_ok=True)
        manifest = self.folder / MANIFEST
        if not manifest.exists() and not all(map(_ours, self.folder.iterdir())):
            raise TailraceError(
                f"{self.folder}: expected blocks of a study, found other files; rename the folder "
                "or write to another file"
            )
        computing = {"code": code_sha256(), "libraries": libraries()}
        self._question = {"layout": LAYOUT, **computing, **question}
        self._agree(manifest, self._question)

    def stored(self, batch: Batch) -> Sequence[Metrics | None]:
        """Metrics of each block of a batch, read when they are asked for.

        None where it is not done, damaged or not of it. Raises TailraceError where a batch of this
        name started from other numbers.
        """
        self._agree(self.folder / f"batch-{batch.name}.json", {"fingerprint": batch.fingerprint})
        return Blocks(len(batch.blocks), partial(self._read, batch))

    def write(self, batch: Batch, block: int, metrics: Metrics) -> None:
        """Store a block, by its number; in memory where the disk is full, so that none is lost."""
        # A slash in a name would be a folder in the archive.
        named = {name.replace("/", "|"): np.asarray(one) for name, one in metrics.items()}
        named[OF] = np.array(self._seal(batch, block, named))
        packed = io.BytesIO()
        with _undisturbed():
            np.savez(packed, **named)  # type: ignore[arg-type]
        content = packed.getvalue()
        self._write(self._file(batch, block), hashlib.sha256(content).digest() + content)

    def _write(self, path: Path, content: bytes) -> None:
        try:
            write_bytes(path, content)
        except FileNotFoundError:
            raise TailraceError(
                f"{self.folder}: expected the folder that this study keeps its blocks in, found "
                "none; another process that writes to the same file has ended, or somebody deleted "
                "it: look for the finished file, or start again"
            ) from None
        except OSError:
            if path.name == MANIFEST:  # nothing is computed yet
                raise
            self._kept[path] = content

    def remove(self) -> None:
        """Delete the folder; for when the study's own file is written.

        What blocks are of goes after them, and the question last: killed on the way, no block is
        left that does not say whose it is. A file of someone else stays, and the folder with it.
        """
        there = self.folder.iterdir() if self.folder.exists() else ()
        for one in sorted(there, key=lambda one: _rank(one.name)):
            if _ours(one):
                one.unlink(missing_ok=True)
        with contextlib.suppress(OSError):
            self.folder.rmdir()

    def _read(self, batch: Batch, block: int) -> Metrics | None:
        try:
            file = self._file(batch, block)
            whole = self._kept.get(file) or file.read_bytes()
            content = whole[DIGEST:]
            if hashlib.sha256(content).digest() != whole[:DIGEST]:
                return None
            with np.load(io.BytesIO(content), allow_pickle=False) as stored:
                named = {name: stored[name] for name in stored.files}
            if named.pop(OF).item() != self._seal(batch, block, named):
                return None
            return {name.replace("|", "/"): values for name, values in named.items()}
        except (OSError, ValueError, EOFError, KeyError, zipfile.BadZipFile):
            return None

    def _seal(self, batch: Batch, block: int, named: Mapping[str, Any]) -> str:
        """Of which study, batch and block these numbers are, and what they are, in one hash."""
        whole = hashlib.sha256(json.dumps(self._question).encode())
        whole.update(json.dumps([batch.name, batch.fingerprint, block]).encode())
        for name, values in sorted(named.items()):
            whole.update(json.dumps([name, values.dtype.str, values.shape]).encode())
            whole.update(values.tobytes())
        return whole.hexdigest()

    def _file(self, batch: Batch, block: int) -> Path:
        return self.folder / f"block-{batch.name}-{block:05d}.npz"

    def _agree(self, file: Path, manifest: dict[str, Any]) -> None:
        """Write what is begun, or compare it with what was begun."""
        written = json.dumps(manifest, indent=1).encode()
        if not file.exists():
            self._write(file, written)
            return
        found = file.read_bytes()
        if found == written:
            return
        try:
            stored = json.loads(found)
        except ValueError:
            stored = None
        # As it comes back from the file: a tuple has become a list.
        asked = json.loads(written)
        if isinstance(stored, dict) and (stored.keys() <= asked.keys() and stored != asked):
            key = next(key for key in asked if stored.get(key) != asked[key])
            what = WHAT.get(key, f"the choice of {key}")
            raise TailraceError(
                f"{self.folder}: expected {what} that this study was begun with, found another; "
                "go back to it, name another file, or delete the folder to start again"
            )
        raise TailraceError(
            f"{file}: expected what the study was begun with, found a damaged file; delete the "
            "folder to start again"
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


@contextlib.contextmanager
def _undisturbed() -> Iterator[None]:
    """An interrupt from the keyboard waits: an archive that is being opened would forget it."""
    came: list[int] = []
    usual = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if not usual or threading.current_thread() is not threading.main_thread():
        yield
        return
    signal.signal(signal.SIGINT, lambda number, _: came.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    if came:
        raise KeyboardInterrupt
