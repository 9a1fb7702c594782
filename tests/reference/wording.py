"""Every text that a table of another language must hold, found in the sources of the program."""

import ast
import re
from functools import cache
from string import Formatter

from reference.tree import ROOT, imports, parsed, python_files

WORD = re.compile(r"[^\W\d_]{2,}")
UNITS = {"bar", "min", "mm", "mL", "µL", "µm", "s²"}


def wordy(text):
    """Whether a text says anything beside values, signs and units."""
    plain = " ".join(part for part, *_ in Formatter().parse(text))
    return bool(set(WORD.findall(plain)) - UNITS)


def places(text):
    """The values of a text, each with its form."""
    return {(name, spec) for _, name, spec, _ in Formatter().parse(text) if name is not None}


SAID = re.compile(r"""\b(?:say|phrase)\(\s*(?:"([^"]*)"|'([^']*)')|\bwords: "([^"]*)\"""")


def said():
    """Texts that ``say`` and ``word`` are called with, as far as they can be read."""
    for path in scripts():
        yield from ("".join(one) for one in SAID.findall(path.read_text("utf-8")))
    for path in python_files("sim"):
        tree = parsed(path)
        if not any("wording" in name for name in imports(path)):
            continue
        for scope in (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)):
            for node in ast.walk(scope):
                called = isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
                if called and node.func.id in ("say", "word") and node.args:
                    yield from _texts(node.args[0], (scope, tree))


def scripts():
    """Templates and modules of the pages with sliders."""
    room = ROOT / "sim" / "tailrace" / "web"
    return [*room.glob("page/*.j2"), *room.glob("page/*.js"), *room.glob("shown/*.js")]


def _texts(node, scopes):
    """Literals that an expression may be: itself, either of two, what its name is set to."""
    if isinstance(node, ast.Constant):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body, scopes)
        yield from _texts(node.orelse, scopes)
    elif isinstance(node, ast.Name):
        for name, value in (pair for scope in scopes for pair in _assigned(scope)):
            if name == node.id:
                yield from (text for text in _texts(value, ()) if isinstance(text, str))


@cache
def _assigned(scope):
    """Names that are set to literals in a function or module, and the literals."""
    found = []
    for one in (one for one in ast.walk(scope) if isinstance(one, ast.Assign)):
        pairs = [(one.targets[0], one.value)]
        if isinstance(one.targets[0], ast.Tuple) and isinstance(one.value, ast.Tuple):
            pairs = zip(one.targets[0].elts, one.value.elts, strict=True)
        found += [
            (target.id, value)
            for target, value in pairs
            if isinstance(target, ast.Name) and isinstance(value, ast.Constant | ast.IfExp)
        ]
    return found


def written():
    """Every text in the program's sources, templates and scenarios, as it is written."""
    found = set()
    for path in python_files("sim"):
        found |= {
            node.value
            for node in ast.walk(parsed(path))
            if isinstance(node, ast.Constant) and isinstance(node.value, str)
        }
        for beside in (*path.parent.glob("*.j2"), *path.parent.glob("*.toml")):
            if beside.parent.name != "wording":
                found |= set(re.findall(r'"([^"\n]+)"', beside.read_text("utf-8")))
        # a key of a scenario is shown in words
        found |= {
            node.target.id.replace("_", " ")
            for node in ast.walk(parsed(path))
            if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name)
        }
    return found | set(said())
