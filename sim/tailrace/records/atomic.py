"""Files that are either there in full or not there: written aside, then renamed."""

import contextlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def replacing(path: str | Path) -> Iterator[Path]:
    """Give a temporary path in the same folder; on leaving, it takes the place of ``path``.

    ``path``: the file to be; whatever stood there before stays until the new one is complete on
    disk. What is given is where to write the content, and to close it. Raises OSError where the
    folder cannot be written; the temporary file is removed then, too.
    """
    path = Path(path)
    aside = path.with_name(f".{path.name}.{secrets.token_hex(4)}.unfinished")
    try:
        yield aside
        _flush(aside, os.O_RDWR)
        os.replace(aside, path)
        if os.name == "posix":
            _flush(path.parent, os.O_RDONLY)
    finally:
        aside.unlink(missing_ok=True)


def write_bytes(path: str | Path, content: bytes) -> None:
    """Write ``content`` (bytes) to ``path`` by way of ``replacing``; raises what that raises."""
    with replacing(path) as aside:
        aside.write_bytes(content)


def _flush(path: Path, mode: int) -> None:
    handle = os.open(path, mode)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
