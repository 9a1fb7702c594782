"""The scenarios that come with tailrace, and the files that each needs."""

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tailrace.scenario
from tailrace.errors import ScenarioError

LEFT_OUT = ("guide", "notebooks", "pages", "pictures")
"""Folders beside the scenarios that hold none."""


@dataclass(frozen=True)
class Example:
    """One scenario that comes with tailrace. ``files``: that it names."""

    title: str
    path: Path
    files: tuple[Path, ...]


def folder() -> Path:
    """Where they are: in an installed package within it, in a checkout beside it."""
    package = Path(tailrace.scenario.__file__).parents[1]
    inside, beside = package / "scenarios", package.parents[1] / "scenarios"
    return inside if inside.is_dir() else beside


def document(name: str) -> str:
    """A page of the project: of its guide, or the list of changes."""
    places = (folder() / "guide", folder().parent / "sim")
    return next(one / name for one in places if (one / name).is_file()).read_text("utf-8")


def examples() -> dict[str, Example]:
    """Every scenario by its name, those of one folder together."""
    found = {}
    for path in sorted(folder().rglob("*.toml"), key=lambda path: (len(path.parts), path)):
        if path.relative_to(folder()).parts[0] not in LEFT_OUT:
            tables = tomllib.loads(path.read_text(encoding="utf-8"))
            files = tuple(path.parent / name for name in dict.fromkeys(_files(tables)))
            found[path.stem] = Example(str(tables["title"]), path, files)
    if not found:
        raise ScenarioError([f"{folder()}: expected scenarios, found none; install tailrace again"])
    return found


def _files(value: Any) -> Iterator[str]:
    """Names behind every key ``file``, however deep."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if key == "file" and isinstance(inner, str):
                yield inner
            yield from _files(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _files(inner)
