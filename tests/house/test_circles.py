"""No module reaches itself through what it imports, when it is loaded or later."""

import ast
import shutil

import pytest
from reference.circles import circle, reached
from reference.tree import PACKAGE

AWAITED: list[tuple[str, str]] = []
PLANTED = {
    "a plain import": "import tailrace.journey.plan",
    "an import within a function": "def late():\n    from tailrace.journey import plan",
    "a literal": "from importlib import import_module\nimport_module('tailrace.journey.plan')",
    "a beginning": (
        "import importlib\ndef late(name):\n    importlib.import_module(f'tailrace.journey.{name}')"
    ),
    "a table and __getattr__": (
        "from importlib import import_module\nDOORS = {'plan': 'tailrace.journey.plan'}\n"
        "def __getattr__(name):\n    return import_module(DOORS[name])"
    ),
}


def test_no_module_reaches_itself():
    assert circle(PACKAGE, AWAITED) == []


@pytest.mark.parametrize("how", PLANTED)
def test_a_planted_circle_is_found(how, tmp_path):
    package = tmp_path / "tailrace"
    shutil.copytree(PACKAGE, package, ignore=shutil.ignore_patterns("__pycache__", "*.j2"))
    with (package / "signals" / "band.py").open("a", encoding="utf-8") as file:
        file.write(f"\n{PLANTED[how]}\n")
    found = circle(package, AWAITED)
    assert "tailrace.signals.band" in found
    assert any(name.startswith("tailrace.journey.") for name in found)


def test_an_import_that_cannot_be_followed_is_refused():
    tree = ast.parse("from importlib import import_module\nimport_module(name)")
    with pytest.raises(ValueError, match="cannot follow"):
        list(reached(tree, "a", False, {"a": None, "b": None}))
