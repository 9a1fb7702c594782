"""A new kind of part is a folder and one row; nobody outside asks for a kind by its name."""

import ast
import json
import os
import shutil
import subprocess
import sys

import h5py
import numpy as np
import pytest
from reference.inline_filter import FOLDER, ROW, SCENARIO
from reference.tree import PACKAGE, ROOT, package_files, parsed

from tailrace.parts import KINDS


def compared_by_name(path):
    """Comparisons in a file that hold something against the name of a kind."""
    for node in ast.walk(parsed(path)):
        if not isinstance(node, ast.Compare):
            continue
        against = node.comparators
        if isinstance(node.ops[0], ast.Eq | ast.NotEq):
            against = [node.left, *against]
        names = {
            one.value
            for side in against
            for one in ast.walk(side)
            if isinstance(one, ast.Constant) and isinstance(one.value, str)
        }
        if names & set(KINDS):
            yield node.lineno, ast.unparse(node)


def test_no_room_but_parts_asks_for_a_kind_by_its_name(tmp_path):
    found = [
        (path.relative_to(PACKAGE), *one)
        for path in package_files()
        if "parts" not in path.relative_to(PACKAGE).parts
        for one in compared_by_name(path)
    ]
    assert found == []
    (tmp_path / "one.py").write_text('part.kind == "tube"\npart.kind in ("cell", "column")\n')
    assert len(list(compared_by_name(tmp_path / "one.py"))) == 2


@pytest.fixture(scope="module")
def extended(tmp_path_factory):
    """The project with one more kind: a folder and a row of ``KINDS``."""
    folder = tmp_path_factory.mktemp("extended")
    package = folder / "sim" / "tailrace"
    # kernels that are compiled already go with their sources
    shutil.copytree(PACKAGE, package, ignore=shutil.ignore_patterns("*.pyc"))
    shutil.copy(ROOT / "pyproject.toml", folder)
    home = package / "parts" / "filter"
    home.mkdir()
    for name, text in FOLDER.items():
        (home / name).write_text(text, encoding="utf-8")
    table = package / "parts" / "__init__.py"
    rows = table.read_text(encoding="utf-8")
    last = '        Kind("detector", "Detector"),\n'
    assert last in rows
    table.write_text(rows.replace(last, last + ROW), encoding="utf-8")
    (folder / "scenario.toml").write_text(SCENARIO, encoding="utf-8")
    return folder


ASKED = (("check",), ("run",), ("run", "--json", "--out", "out"))
COMMANDS = """\
import json, sys
from click.testing import CliRunner
from tailrace.cli import main
for words in json.loads(sys.argv[1]):
    done = CliRunner().invoke(main, [*words, "scenario.toml"])
    print(json.dumps([done.exit_code, done.stdout, done.stderr]))
"""


@pytest.fixture(scope="module")
def answers(extended):
    """What commands of the extended project print, all in one process of its own."""
    environment = os.environ | {
        "PYTHONPATH": str(extended / "sim"),
        "PYTHONDONTWRITEBYTECODE": "1",
    }
    done = subprocess.run(
        [sys.executable, "-c", COMMANDS, json.dumps(ASKED)],
        cwd=extended,
        env=environment,
        capture_output=True,
        text=True,
        timeout=200,
    )
    assert done.returncode == 0, done.stderr
    told = [json.loads(line) for line in done.stdout.splitlines()]
    assert [code for code, _, _ in told] == [0] * len(ASKED), told
    return {words: stdout for words, (_, stdout, _) in zip(ASKED, told, strict=True)}


def test_a_new_kind_is_checked_with_its_assumptions(answers):
    reported = answers["check",]
    assert "in-line filter" in reported
    assert "evenly packed" in reported


def tables(value):
    """All objects within one, itself included."""
    if isinstance(value, dict):
        yield value
        value = list(value.values())
    for one in value if isinstance(value, list) else ():
        yield from tables(one)


def test_a_new_kind_is_run_and_found_in_object_and_record(extended, answers):
    reported = list(tables(json.loads(answers[ASKED[-1]])))
    (found,) = [one for one in reported if one.get("name") == "in-line filter"]
    assert "filter" in found.values()
    texts = []

    def look(_, node):
        if isinstance(node, h5py.Dataset) and node.dtype.kind == "O":
            texts.extend(np.ravel(node.asstr()[()]))

    with h5py.File(extended / "out" / "record.h5") as record:
        record.visititems(look)
    assert {"in-line filter", "filter"} <= set(texts)


def test_a_new_kind_stands_in_the_table(answers):
    assert "in-line filter" in answers["run",]
