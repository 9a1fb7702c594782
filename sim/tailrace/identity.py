"""Which code computes: a hash of all that tailrace is made of."""

import hashlib
from functools import lru_cache
from pathlib import Path

KINDS = (".py", ".npz", ".npy", ".csv")
"""Endings of files on which numbers depend."""


@lru_cache(maxsize=1)
def code_sha256() -> str:
    """SHA-256 over the names and contents of every module and table of the package."""
    folder = Path(__file__).parent
    whole = hashlib.sha256()
    files = {one.relative_to(folder).as_posix(): one for one in folder.rglob("*")}
    for name, one in sorted(files.items()):
        if one.suffix in KINDS:
            whole.update(name.encode() + b"\0" + hashlib.sha256(one.read_bytes()).digest())
    return whole.hexdigest()
