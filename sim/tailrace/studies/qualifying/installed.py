"""Whether the files of this installation are those that were installed."""

import base64
import hashlib
from importlib import metadata
from pathlib import Path

from tailrace import identity

TEMPLATES = (".j2", ".js")
"""Files beside code and tables on which the output depends."""


def altered() -> tuple[str, int, tuple[str, ...]]:
    """How it is installed, how many files were looked at, and which are not as installed.

    A wheel lists a SHA-256 of every file. A folder of sources (an editable installation) has no
    such list: nothing can be said but the hash of its code.
    """
    try:
        listed = metadata.files("tailrace") or []
    except metadata.PackageNotFoundError:
        listed = []
    home = Path(identity.__file__).parent
    rows = [
        one
        for one in listed
        if one.parts[:1] == (home.name,)
        and one.suffix in (*identity.KINDS, *TEMPLATES)
        and one.hash
    ]
    if not rows:
        return "folder", sum(one.suffix in identity.KINDS for one in home.rglob("*")), ()
    wrong = [
        str(one)
        for one in rows
        if one.hash and one.hash.value != _hash(home.parent / Path(*one.parts))
    ]
    known = {Path(*one.parts) for one in rows}
    more = (one.relative_to(home.parent) for one in sorted(home.rglob("*.py")))
    return "wheel", len(rows), tuple(wrong + [str(one) for one in more if one not in known])


def _hash(path: Path) -> str:
    """As a wheel's RECORD writes it; empty for a file that is gone."""
    if not path.is_file():
        return ""
    found = hashlib.sha256(path.read_bytes()).digest()
    return base64.urlsafe_b64encode(found).rstrip(b"=").decode()
