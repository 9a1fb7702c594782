"""A metric's name is written in few places: everybody else reads the registry."""

import ast

import pytest
from reference.tree import PACKAGE, package_files, parsed

from tailrace.measures import METRICS, SIGNALS

MOST = 3
"""Modules: the registry, the one that computes it, one that speaks of it."""
FIELDS = {"light_path", "signal_to_noise"}
"""Names that a table of the scenario and a study of changes have for fields of their own, too."""


@pytest.fixture(scope="module")
def literals():
    return {
        path.relative_to(PACKAGE).as_posix(): {
            node.value
            for node in ast.walk(parsed(path))
            if isinstance(node, ast.Constant) and isinstance(node.value, str)
        }
        for path in package_files()
    }


# a name of one word may be any word of the language
@pytest.mark.parametrize("name", sorted(n for n in METRICS | SIGNALS if "_" in n))
def test_a_metric_is_named_in_few_modules(literals, name):
    found = [module for module, text in literals.items() if name in text]
    assert "measures/registry.py" in found
    assert len(found) <= MOST or name in FIELDS, found
