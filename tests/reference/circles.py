"""Which modules of a package reach themselves, imports that are made while running included."""

import ast
from graphlib import CycleError, TopologicalSorter

from reference.tree import parsed

DYNAMIC = ("import_module", "importlib.import_module", "__import__")


def module_name(path, package):
    """Dotted name of a file of a package; both are paths."""
    parts = path.relative_to(package.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def reached(tree, name, is_package, known):
    """Modules that a module imports, wherever in its text and however.

    What Python loads on the way to a module (the packages around it) is not counted, as every
    package would be in a circle with all that it holds.
    """
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = name.split(".")[: len(name.split(".")) - node.level + is_package]
            start = ".".join([*(above if node.level else []), *filter(None, [node.module])])
            for alias in node.names:
                inner = f"{start}.{alias.name}"
                yield inner if inner in known else start
        elif isinstance(node, ast.Call) and ast.unparse(node.func) in DYNAMIC and node.args:
            yield from _named(node.args[0], tree, known)


def _named(argument, tree, known):
    """What a dynamic import can mean: its literal, all with its literal beginning, or else any
    module that the file names in a text."""
    if isinstance(argument, ast.Constant):
        yield argument.value
        return
    if isinstance(argument, ast.JoinedStr) and isinstance(argument.values[0], ast.Constant):
        start = argument.values[0].value
        yield from (one for one in known if one.startswith(start))
        return
    texts = {node.value for node in ast.walk(tree) if isinstance(node, ast.Constant)}
    found = [one for one in known if one in texts]
    if not found:
        raise ValueError(f"cannot follow the import of {ast.unparse(argument)}")
    yield from found


def edges(package):
    """By the name of each module of the package at a path, those that it reaches."""
    files = {module_name(path, package): path for path in package.rglob("*.py")}
    return {name: reached_by(path, name, files) for name, path in files.items()}


def reached_by(path, name, known, more=""):
    """Modules that a file reaches, with a text added to its end."""
    tree = ast.parse(path.read_text(encoding="utf-8") + more) if more else parsed(path)
    return {*reached(tree, name, path.stem == "__init__", known)} & {*known} - {name}


def circle(graph):
    """One circle of modules among ``edges``, as a list of names; empty if there is none."""
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return error.args[1]
    return []
