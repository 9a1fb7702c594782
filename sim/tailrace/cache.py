"""Where compiled code is stored, if not where numba would store it, and what is stored there."""

import os
import stat
import sys
import tempfile
from pathlib import Path

VARIABLE = "NUMBA_CACHE_DIR"


def choose_cache() -> None:
    """Name a temporary folder where neither the package nor the home folder can be written.

    Without one numba would refuse to work at all. A folder of this user alone, since whoever
    writes there could make us run what he likes.
    """
    beside = Path(__file__).parent
    if VARIABLE in os.environ or _writable(beside) or _writable(_home()):
        return
    user = os.getuid() if hasattr(os, "getuid") else os.environ.get("USERNAME", "")
    folder = Path(tempfile.gettempdir()) / f"tailrace-{user}"
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        found = folder.lstat()
        ours = stat.S_ISDIR(found.st_mode) and not found.st_mode & 0o077
        if not ours or (hasattr(os, "getuid") and found.st_uid != os.getuid()):
            folder = Path(tempfile.mkdtemp(prefix="tailrace-"))
    except OSError:
        return
    os.environ[VARIABLE] = str(folder)


def stored(module: str) -> bool:
    """Whether compiled kernels of a module as it is now lie in a cache; numba is not asked.

    ``module``: below the package, such as "parts/tube/march".
    """
    file = Path(__file__).parent / f"{module}.py"
    folders = [file.parent / "__pycache__"]
    chosen = os.environ.get(VARIABLE)
    others = [Path(chosen)] if chosen else [_home() / "numba"]
    if chosen:
        folders = []
    for one in others:
        folders += one.glob(f"{file.parent.name}_*")
    modified = file.stat().st_mtime
    return any(
        index.stat().st_mtime >= modified
        for folder in folders
        for index in folder.glob(f"{file.stem}.*.nbi")
    )


def compiled_seconds() -> float:
    """What this process has spent on compiling kernels; those within others count twice."""
    kernels = [
        one
        for name, module in list(sys.modules.items())
        if name.startswith("tailrace.") and name.endswith(("march", "outlines"))
        for one in vars(module).values()
        if getattr(one, "__module__", "") == name and hasattr(one, "get_metadata")
    ]
    metadata = [known for one in kernels for known in one.get_metadata().values() if known]
    timers = [known.get("timers", {}) for known in metadata]  # of one under way not all are there
    return float(sum(one.get("compiler_lock", 0.0) for one in timers))


def _home() -> Path:
    return Path(os.environ.get("XDG_CACHE_HOME") or Path(os.path.expanduser("~")) / ".cache")


def _writable(folder: Path) -> bool:
    """Whether a file could be made there; the folder itself may be missing."""
    there = next((one for one in (folder, *folder.parents) if one.exists()), folder)
    return there.is_dir() and os.access(there, os.W_OK | os.X_OK)
