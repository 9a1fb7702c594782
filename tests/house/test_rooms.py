"""Who may import what: libraries by room, rooms by their order, parts not each other."""

import os
import shutil
import subprocess
import sys
from itertools import permutations

import pytest
from reference.tree import PACKAGE, ROOT, importers

from tailrace.parts import KINDS

HEAVY = ("numba", "xarray", "matplotlib", "pint", "pandas", "h5py", "scipy", "pydantic")
ABOVE_RECORDS = ("records", "figures", "report", "cli")


def test_numba_only_in_kernels():
    # vector.py: the row of lanes that the tube's kernel computes with; only kernels import it
    # outlines.py: peaks read off many lanes
    allowed = {"parts/tube/vector.py", "measures/outlines.py"}
    found = importers("numba") | importers("llvmlite")
    assert found
    assert {name for name in found if not name.endswith(("/march.py", "/transfer.py"))} == allowed


@pytest.mark.parametrize(
    ("library", "rooms"),
    [
        ("matplotlib", ("figures",)),
        ("xarray", ABOVE_RECORDS),
        ("h5py", ("records",)),
        ("h5netcdf", ("records",)),
        ("pint", ("quantities",)),
        ("click", ("cli",)),
    ],
)
def test_libraries_stay_in_their_rooms(library, rooms):
    assert {name for name in importers(library) if name.split("/")[0] not in rooms} == set()


HOUSED = [name for name, kind in KINDS.items() if not kind.package]
"""Kinds with a folder of their own; a loop's stands in that of the tube, on which it rests."""


def test_every_kind_of_part_has_the_same_files():
    folders = {path.name for path in (PACKAGE / "parts").iterdir() if path.is_dir()}
    assert folders - {"__pycache__"} == set(HOUSED)
    for kind in HOUSED:
        table = ("table",) if KINDS[kind].part.carries_flow else ()
        for name in ("part", "theory", "transfer", "march", *table):
            assert (PACKAGE / "parts" / kind / f"{name}.py").is_file(), (kind, name)


@pytest.mark.parametrize("kind", HOUSED)
def test_theory_transfer_and_march_do_not_know_each_other(kind):
    folder = PACKAGE / "parts" / kind
    own = f"tailrace.parts.{kind}"
    for one, other in permutations(("theory", "transfer", "march"), 2):
        text = (folder / f"{one}.py").read_text(encoding="utf-8")
        assert f"{own}.{other}" not in text
        assert f"import {other}" not in text
    # nor does the description of a part know how it is solved
    assert "march" not in (folder / "part.py").read_text(encoding="utf-8").split('"""')[-1]


def loaded(code):
    """Libraries of HEAVY that a fresh interpreter holds after some code."""
    show = f"import sys; print(*[name for name in {HEAVY!r} if name in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\n{show}"], capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    return set(done.stdout.splitlines()[-1].split())


def test_importing_the_package_loads_nothing_heavy():
    assert loaded("import tailrace") == set()


def test_asking_for_help_loads_nothing_heavy():
    code = (
        "from click.testing import CliRunner\nfrom tailrace.cli import main\n"
        "assert CliRunner().invoke(main, ['--help']).exit_code == 0"
    )
    assert loaded(code) == set()


def linted(folder):
    """Answer of import-linter on the package in a folder, with the contracts found there."""
    environment = os.environ | {"PYTHONPATH": str(folder / "sim")}
    code = "import sys; from importlinter.cli import lint_imports_command as go; go()"
    command = [sys.executable, "-c", code, "--no-cache", "--config", "pyproject.toml"]
    return subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, timeout=100
    )


def copied(folder):
    shutil.copytree(ROOT / "sim", folder / "sim", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", folder)
    return folder / "sim" / "tailrace"


def test_rooms_import_only_from_below(tmp_path):
    copied(tmp_path)
    answer = linted(tmp_path)
    assert answer.returncode == 0, answer.stdout
    assert "2 kept, 0 broken" in answer.stdout


@pytest.mark.parametrize(
    ("module", "statement", "broken"),
    [
        ("signals/band.py", "import tailrace.journey.plan", "A room imports only from rooms below"),
        ("parts/tube/part.py", "import tailrace.parts.cell.part", "Parts are strangers"),
    ],
)
def test_a_wrong_import_is_found(module, statement, broken, tmp_path):
    package = copied(tmp_path)
    with (package / module).open("a", encoding="utf-8") as file:
        file.write(f"\n{statement}\n")
    answer = linted(tmp_path)
    assert answer.returncode == 1, answer.stdout + answer.stderr
    assert f"{broken}" in answer.stdout
    assert "BROKEN" in answer.stdout
    assert statement.split()[-1] in answer.stdout
