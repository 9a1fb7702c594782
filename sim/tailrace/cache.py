"""Where compiled code is stored, if not where numba would store it."""

import os
import stat
import tempfile
from pathlib import Path

VARIABLE = "NUMBA_CACHE_DIR"


def choose_cache() -> None:
    """Name a temporary folder where neither the package nor the home folder can be written.

    Without one numba would refuse to work at all. A folder of this user alone, since whoever
    writes there could make us run what he likes.
    """
    beside = Path(__file__).parent
    home = Path(os.environ.get("XDG_CACHE_HOME") or Path(os.path.expanduser("~")) / ".cache")
    if VARIABLE in os.environ or _writable(beside) or _writable(home):
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


def _writable(folder: Path) -> bool:
    """Whether a file could be made there; the folder itself may be missing."""
    there = next((one for one in (folder, *folder.parents) if one.exists()), folder)
    return there.is_dir() and os.access(there, os.W_OK | os.X_OK)
