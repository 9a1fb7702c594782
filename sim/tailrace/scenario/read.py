"""From a scenario file to its tables, and back to file and line for all that is wrong with them."""

import re
import tomllib
from collections.abc import Sequence
from pathlib import Path

from tailrace.errors import ScenarioError
from tailrace.scenario.files import MOST_PROBLEMS
from tailrace.scenario.locate import Lines
from tailrace.scenario.problems import Problem, Tables

LARGEST = 1_000_000
"""Bytes."""


def bytes_of(path: Path) -> bytes:
    """The bytes of a scenario file; raises ScenarioError where it cannot be read."""
    if path.is_dir():
        raise ScenarioError([f"{path}: expected a scenario file, found a directory; name a file"])
    if not path.exists():
        raise ScenarioError([f"{path}: expected a scenario file, found nothing; check the name"])
    if not path.is_file():
        raise ScenarioError([f"{path}: expected a plain file, found a device; name a file"])
    try:
        with path.open("rb") as stream:
            content = stream.read(LARGEST + 1)
    except OSError as error:
        reason = (error.strerror or "unreadable").lower()
        raise ScenarioError(
            [f"{path}: expected a file that can be read, found: {reason}; check its permissions"]
        ) from None
    if len(content) > LARGEST:
        raise ScenarioError(
            [f"{path}: expected at most 1 MB, found more; is this the scenario file?"]
        )
    return content


def text_of(path: Path, content: bytes) -> str:
    """The text of a scenario file; raises ScenarioError for other bytes, and for none."""
    try:
        # Some editors put a byte order mark in front, which TOML itself does not know.
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise ScenarioError(
            [f"{path}:{line}: expected UTF-8 text, found other bytes; save the file as UTF-8"]
        ) from None
    if not text.strip():
        raise ScenarioError(
            [f"{path}: expected a scenario, found an empty file; begin with a table [method]"]
        )
    return text


def tables_of(path: Path, text: str) -> Tables:
    """The tables of a scenario file; raises ScenarioError, with the line, where it is no TOML."""
    line: int | None = None
    try:
        return tomllib.loads(text)
    except RecursionError:
        reason = "brackets nested too deep"
    except ValueError as error:
        # TOMLDecodeError is one; numbers of thousands of digits raise the bare kind.
        reason = str(error)
        place = re.search(r"\(at line (\d+), column (\d+)\)", reason)
        line = int(place[1]) if place else None
        if line is None and "end of document" in reason:
            line = text.count("\n") + 1
        # Python names a key as a tuple: ('method', 'flow').
        reason = re.sub(r"\(('[^()]*'),?\)", lambda keys: keys[1].replace("', '", "."), reason)
        reason = reason.split(" (at ")[0].split(";")[0].replace("\n", " ")[:120]
    where = f"{path}:{line}" if line else f"{path}"
    reason = reason[:1].lower() + reason[1:]
    raise ScenarioError([f"{where}: expected TOML, found: {reason}; correct the line"])


def sentences(path: Path, text: str | None, problems: Sequence[Problem]) -> list[str]:
    """Put file, line and key in front of problems, in the order of the file.

    Parameters
    ----------
    path : Path
    text : str or None
        None: nobody wrote it, and no line is named.
    problems : sequence of Problem
    """
    lines = Lines(text or "")
    placed = sorted(((lines.line(one.path), one) for one in problems), key=lambda pair: pair[0])
    found = [
        f"{path}{f':{line}' if text else ''}: {one.key + ': ' if one.key else ''}{one.sentence}"
        for line, one in placed
    ]
    more = len(found) - MOST_PROBLEMS
    return found[:MOST_PROBLEMS] + ([f"{path}: {more} more problems"] if more > 0 else [])
