"""Every public name says what it is, in which shape and unit."""

import ast
import re
from functools import cache

import pytest
from reference.tree import PACKAGE, package_files, parsed

FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef)
ENTRY = re.compile(r"^(\w[\w, ]*?) : (.+)$")
NUMERIC = re.compile(r"\b(array|arrays|float|scalar)\b", re.IGNORECASE)
WITH_UNIT = re.compile(
    r"\b(arrays?|floats?|scalar)\b.*[,:] *(?:any |the )?\S|any unit|optional|^dict |^tuple of "
)
"""Dicts and tuples of several things name their units in the lines below the entry."""


def public(path):
    """(qualified name, node) of every public function, class and method of a file."""
    for node in parsed(path).body:
        if isinstance(node, (*FUNCTIONS, ast.ClassDef)) and not node.name.startswith("_"):
            yield node.name, node
            if isinstance(node, ast.ClassDef):
                for inner in node.body:
                    if isinstance(inner, FUNCTIONS) and not inner.name.startswith("_"):
                        yield f"{node.name}.{inner.name}", inner


@cache
def everything():
    return {
        f"{path.relative_to(PACKAGE)}:{name}": node
        for path in package_files()
        for name, node in public(path)
    }


def sections(text):
    """Entries (names, type) below the heading Parameters and Returns of a docstring."""
    under = None
    lines = text.splitlines()
    for line, ruled in zip(lines, [*lines[1:], ""], strict=True):
        if set(ruled.strip()) == {"-"}:
            under = line.strip()
        entry = ENTRY.match(line)
        if entry and under in ("Parameters", "Returns"):
            yield under, entry[1], entry[2]


def test_there_are_public_names():
    assert len(everything()) > 100


def test_every_public_name_has_a_docstring():
    assert [name for name, node in everything().items() if not ast.get_docstring(node)] == []


def test_every_module_has_a_docstring():
    silent = [
        str(path.relative_to(PACKAGE))
        for path in package_files()
        if path.read_text(encoding="utf-8").strip() and not ast.get_docstring(parsed(path))
    ]
    assert silent == []


def test_numbers_have_a_shape_or_a_unit_in_the_type_slot():
    bare = []
    for name, node in everything().items():
        for _, entry, kind in sections(ast.get_docstring(node) or ""):
            if NUMERIC.search(kind) and not WITH_UNIT.search(kind):
                bare.append(f"{name}: {entry} : {kind}")
    assert bare == []


def test_listed_parameters_are_those_of_the_signature():
    wrong = []
    for name, node in everything().items():
        if not isinstance(node, FUNCTIONS):
            continue
        listed = [
            one.strip()
            for under, entry, _ in sections(ast.get_docstring(node) or "")
            if under == "Parameters"
            for one in entry.split(",")
        ]
        arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
        taken = [one.arg for one in arguments if one.arg not in ("self", "cls")]
        if listed and not set(listed) <= set(taken):
            wrong.append(f"{name}: {listed} are not {taken}")
    assert wrong == []


@pytest.mark.parametrize(
    ("kind", "sound"),
    [
        ("(lanes,) array, s", True),
        ("scalar or (lanes,) array, m^3", True),
        ("float, 1", True),
        ("(lanes,) array", False),
        ("float", False),
    ],
)
def test_the_check_itself(kind, sound):
    assert bool(NUMERIC.search(kind)) and bool(WITH_UNIT.search(kind)) is sound
