"""Which tailrace this is: its version, of which commit, and a hash of the code that computes.

The build loads this file by itself (``pyproject.toml``): it imports nothing of the package.
"""

import hashlib
import os
import re
import subprocess
from functools import lru_cache
from importlib import metadata
from pathlib import Path

RELEASE = "0.1.0"
"""The last one. Whatever is not tagged with it names its commit behind a plus."""
KINDS = (".py", ".npz", ".npy", ".csv", ".cdf", ".toml")
"""Endings of files on which numbers depend."""
PACKAGE = Path(__file__).parent
CHECKOUT = PACKAGE.parents[1]
"""Where the project lies, if this is no installed package."""


@lru_cache(maxsize=1)
def own_version() -> str:
    """Version of the code that runs: of the commit that is checked out, else the installed one."""
    found = _of_commit()
    if found:
        return found
    try:
        return metadata.version("tailrace")
    except metadata.PackageNotFoundError:
        return built_version()


def built_version() -> str:
    """What the build writes down: of the commit, or of what a source archive says of it."""
    return _of_commit() or _of_archive() or f"{RELEASE}+unknown"


def _of_commit() -> str:
    """``0.1.0+g0123456789ab``, with ``.dirty`` where files were changed; empty without git."""
    if PACKAGE.parent.name != "sim" or not (CHECKOUT / ".git").exists():
        return ""
    command = ["git", "describe", "--always", "--long", "--dirty", "--abbrev=12", "--match=v*"]
    alone = {name: one for name, one in os.environ.items() if not name.startswith("GIT_")}
    try:
        done = subprocess.run(
            command,
            cwd=CHECKOUT,
            env=alone | {"GIT_OPTIONAL_LOCKS": "0"},
            capture_output=True,
            text=True,
            check=True,
        )
    except (OSError, subprocess.CalledProcessError):
        return ""
    text = done.stdout.strip()
    if text.startswith(f"v{RELEASE}-0-g") and not text.endswith("-dirty"):
        return RELEASE
    return f"{RELEASE}+g{text.rpartition('-g')[2].replace('-', '.')}"


def _of_archive() -> str:
    """Of a source distribution, or of a folder that ``git archive`` wrote; empty elsewhere."""
    for name, form in (("PKG-INFO", r"^Version: (\S+)$"), (".ci/commit", r"^([0-9a-f]{12})")):
        with_it = CHECKOUT / name
        found = re.search(form, with_it.read_text("utf-8"), re.M) if with_it.is_file() else None
        if found:
            return found[1] if name == "PKG-INFO" else f"{RELEASE}+g{found[1]}"
    return ""


@lru_cache(maxsize=1)
def code_sha256() -> str:
    """SHA-256 over the names and contents of every module and table of the package.

    Without the scenarios that a wheel brings along: it is the same in a checkout.
    """
    whole = hashlib.sha256()
    files = {one.relative_to(PACKAGE).as_posix(): one for one in PACKAGE.rglob("*")}
    for name, one in sorted(files.items()):
        if one.suffix in KINDS and not name.startswith("scenarios/"):
            whole.update(name.encode() + b"\0" + hashlib.sha256(one.read_bytes()).digest())
    return whole.hexdigest()
