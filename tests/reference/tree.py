"""The project's own files, for the tests of its rules."""

import ast
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "sim" / "tailrace"
FOLDERS = ("sim", "tests", "scenarios", "benchmarks")
TEXT = (".py", ".toml", ".md", ".txt", ".csv", ".j2", "")


@cache
def own_files(folders=FOLDERS):
    """Every text file of the project, generated ones left out."""
    found = [
        path
        for path in ROOT.iterdir()
        if path.is_file() and path.suffix in TEXT and path.name != ".git"
    ]
    for folder in folders:
        found += [
            path
            for path in (ROOT / folder).rglob("*")
            if path.is_file() and path.suffix in TEXT and "__pycache__" not in path.parts
        ]
    return sorted(found)


def python_files(*folders):
    return [path for path in own_files(folders or FOLDERS) if path.suffix == ".py"]


def package_files():
    return [path for path in python_files("sim") if PACKAGE in path.parents]


def room(path):
    """Name of the room (or module) of the package that a file belongs to."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


@cache
def parsed(path):
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def imports(path):
    """Names of all modules that a file imports anywhere, dotted."""
    found = []
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            found.append(node.module or "")
    return found


def importers(package):
    """Files of the package that import a library, relative to it."""
    return {
        path.relative_to(PACKAGE).as_posix()
        for path in package_files()
        for name in imports(path)
        if name.split(".")[0] == package
    }
