"""Lengths, forbidden constructs and names; what ruff says."""

import ast
import subprocess
import sys

import pytest
from reference.tree import PACKAGE, ROOT, package_files, parsed, python_files, room

LONGEST_FILE, LONGEST_FUNCTION, LONGEST_KERNEL = 500, 50, 80
FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef)
VAGUE = {"utils", "util", "helpers", "helper", "manager", "managers", "misc", "common"}


def test_there_is_something_to_look_at():
    assert len(package_files()) > 50


def test_no_file_is_too_long():
    lengths = {
        path.relative_to(ROOT).as_posix(): len(path.read_text(encoding="utf-8").splitlines())
        for path in python_files()
    }
    assert {name: lines for name, lines in lengths.items() if lines > LONGEST_FILE} == {}


def test_no_function_is_too_long():
    long = {}
    for path in python_files():
        for node in ast.walk(parsed(path)):
            if isinstance(node, FUNCTIONS):
                most = LONGEST_KERNEL if node.name.startswith("_kernel") else LONGEST_FUNCTION
                lines = node.end_lineno - node.lineno + 1
                if lines > most:
                    long[f"{path.relative_to(ROOT)}:{node.name}"] = lines
    assert long == {}


def test_only_the_command_line_prints_asks_or_exits():
    speaking = {
        f"{path.relative_to(PACKAGE)}:{node.lineno}"
        for path in package_files()
        if room(path) not in ("cli", "__main__")
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.Call)
        and ast.unparse(node.func) in ("print", "input", "exit", "quit", "sys.exit", "os._exit")
    }
    assert speaking == set()


def test_no_star_import_global_eval_or_mutable_default():
    found = []
    for path in package_files():
        for node in ast.walk(parsed(path)):
            bad = isinstance(node, ast.Global)
            if isinstance(node, ast.ImportFrom):
                bad = any(alias.name == "*" for alias in node.names)
            elif isinstance(node, ast.Call):
                bad = ast.unparse(node.func) in ("eval", "exec")
            elif isinstance(node, FUNCTIONS):
                defaults = [*node.args.defaults, *node.args.kw_defaults]
                bad = any(isinstance(one, ast.List | ast.Dict | ast.Set) for one in defaults)
            if bad:
                found.append(f"{path.relative_to(PACKAGE)}:{node.lineno}")
    assert found == []


def test_no_vague_names():
    parts = {part.removesuffix(".py") for path in python_files() for part in path.parts[-2:]}
    assert parts & VAGUE == set()


@pytest.mark.parametrize("arguments", [("check",), ("format", "--check")], ids=lambda a: a[0])
def test_ruff(arguments):
    command = [sys.executable, "-m", "ruff", *arguments, "--no-cache", "--quiet", "."]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-1000:]
