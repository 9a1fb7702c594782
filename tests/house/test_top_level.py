"""What lies at the top level, where settings live, and that nothing names a machine."""

import re
from fnmatch import fnmatch

from reference.tree import ROOT, own_files

ALLOWED = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "LICENSE",
    "sim",
    "scenarios",
    "tests",
    "benchmarks",
}
SETTINGS = (
    "ruff.toml",
    ".ruff.toml",
    "pytest.ini",
    "setup.cfg",
    "setup.py",
    "tox.ini",
    ".coveragerc",
    ".importlinter",
    "mypy.ini",
    "requirements*.txt",
)
# written in pieces, so that this file does not name one
MACHINE = re.compile("/(?:" + "|".join(("work", "tmp", "home", "root", "Users")) + ")/")
DRIVE = re.compile(r"\b[A-Z]:\\\\?\w")


def ignored(name):
    lines = (ROOT / ".gitignore").read_text(encoding="utf-8").split()
    return any(fnmatch(name, line.strip("/")) for line in lines)


def test_only_the_agreed_names_at_the_top():
    names = {
        path.name
        for path in ROOT.iterdir()
        if not path.name.startswith(".") and not ignored(path.name)
    }
    assert names <= ALLOWED, names - ALLOWED
    assert names >= {"README.md", "pyproject.toml", "LICENSE", "sim", "scenarios", "tests"}


def test_settings_live_in_pyproject():
    elsewhere = [
        str(path.relative_to(ROOT))
        for folder in (ROOT, ROOT / "sim", ROOT / "tests")
        for path in folder.iterdir()
        if any(fnmatch(path.name, pattern) for pattern in SETTINGS)
    ]
    assert elsewhere == []
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    for tool in ("pytest", "ruff", "importlinter", "hatch"):
        assert f"[tool.{tool}" in text


def test_no_path_of_a_machine():
    named = [
        f"{path.relative_to(ROOT)}:{number}"
        for path in own_files()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if MACHINE.search(line) or DRIVE.search(line)
    ]
    assert named == []


def test_pinned_versions_hold_no_address():
    pinned = (ROOT / "tests" / "pinned.txt").read_text(encoding="utf-8")
    lines = [line for line in pinned.splitlines() if line and not line.startswith("#")]
    assert lines
    assert [
        line for line in lines if not re.fullmatch(r"[A-Za-z0-9._-]+==[A-Za-z0-9.+!]+", line)
    ] == []
