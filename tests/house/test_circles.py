"""No module reaches itself through what it imports, when it is loaded or later."""

import ast

import pytest
from reference.circles import circle, edges, reached, reached_by
from reference.tree import PACKAGE

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


@pytest.fixture(scope="module")
def graph():
    return edges(PACKAGE)


def test_no_module_reaches_itself(graph):
    assert circle(graph) == []


@pytest.mark.parametrize("how", PLANTED)
def test_a_planted_circle_is_found(graph, how):
    band, path = "tailrace.signals.band", PACKAGE / "signals" / "band.py"
    found = circle(graph | {band: reached_by(path, band, graph, f"\n{PLANTED[how]}\n")})
    assert band in found
    assert any(name.startswith("tailrace.journey.") for name in found)


def test_an_import_that_cannot_be_followed_is_refused():
    tree = ast.parse("from importlib import import_module\nimport_module(name)")
    with pytest.raises(ValueError, match="cannot follow"):
        list(reached(tree, "a", False, {"a": None, "b": None}))
