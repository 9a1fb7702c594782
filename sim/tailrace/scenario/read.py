"""From a scenario file to its tables, and back to file and line for all that is wrong with them."""

import re
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tailrace.errors import ScenarioError
from tailrace.scenario.files import MOST_PROBLEMS
from tailrace.scenario.problems import Place, Problem, Tables, quoted

LARGEST = 1_000_000
"""Bytes."""
_VALUE_TOKENS = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}'
    r"|'''.*?'{3,5}"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'"
    r"|\#[^\n]*"
    r"|[\[\]{}\n]",
    re.DOTALL,
)
_KEY_END = re.compile(r"""(?:"(?:\\.|[^"\\])*"|'[^']*'|[^"'=\]])*""")


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
    lines = text.splitlines()
    wrong = lines[line - 1] if line and line <= len(lines) else ""
    if not _is_toml(wrong) and (meant := quoted(wrong)):
        found = "a quote at one end" if '"' in wrong else "none"
        raise ScenarioError([f"{where}: expected a text in quotes, found {found}; write {meant}"])
    reason = reason[:1].lower() + reason[1:]
    raise ScenarioError([f"{where}: expected TOML, found: {reason}; correct the line"])


def _is_toml(line: str) -> bool:
    """Whether nothing is wrong with a line by itself."""
    try:
        tomllib.loads(line)
    except ValueError:
        return False
    return True


def sentences(path: Path, text: str | None, problems: Sequence[Problem]) -> list[str]:
    """Put file, line and key in front of problems, in the order of the file; without a text that
    somebody wrote no line is named."""
    lines = Lines(text or "")
    placed = sorted(((lines.line(one.path), one) for one in problems), key=lambda pair: pair[0])
    found = [
        f"{path}{f':{line}' if text else ''}: {one.key + ': ' if one.key else ''}{one.sentence}"
        for line, one in placed
    ]
    more = len(found) - MOST_PROBLEMS
    return found[:MOST_PROBLEMS] + ([f"{path}: {more} more problems"] if more > 0 else [])


class Lines:
    """Line numbers by key path, of a text that ``tomllib`` has accepted.

    Only keys, headers and the ends of values are looked for, and nothing is checked again.
    """

    def __init__(self, text: str) -> None:
        self._text = text.replace("\r\n", "\n")
        self._found: dict[Place, int] = {}
        self._counts: dict[Place, int] = {}
        self._scan()

    def line(self, path: Place) -> int:
        """The line of a key, or of the nearest table or key around it; 1 where none is there."""
        for length in range(len(path), 0, -1):
            line = self._found.get(tuple(path[:length]))
            if line is not None:
                return line
        return 1

    def _scan(self) -> None:
        position, line = 0, 1
        table: Place = ()
        while position < len(self._text):
            here = self._text[position]
            if here == "\n":
                line += 1
                position += 1
            elif here in " \t":
                position += 1
            elif here == "#":
                position = self._end_of_line(position)
            elif here == "[":
                array = self._text.startswith("[[", position)
                start = position + (2 if array else 1)
                position = self._end_of_key(start)
                table = self._open(_keys(self._text[start:position]), array, line)
                position = self._end_of_line(position)
            else:
                end = self._end_of_key(position)
                self._record(table + self._resolve(table, _keys(self._text[position:end])), line)
                position, line = self._end_of_value(end, line)

    def _open(self, keys: Place, array: bool, line: int) -> Place:
        """Enter the table of a header and return its path."""
        if not array:
            path = self._resolve((), keys)
        else:
            parent = self._resolve((), keys[:-1]) + keys[-1:]
            index = self._counts[parent] = self._counts.get(parent, -1) + 1
            self._record(parent, line)
            path = (*parent, index)
        self._record(path, line)
        return path

    def _resolve(self, table: Place, keys: Place) -> Place:
        """Put in the position of the newest table of every array on the way."""
        path: Place = ()
        for key in keys:
            path += (key,)
            if table + path in self._counts:
                path += (self._counts[table + path],)
        return path

    def _record(self, path: Place, line: int) -> None:
        for length in range(1, len(path) + 1):
            self._found.setdefault(path[:length], line)

    def _end_of_key(self, position: int) -> int:
        match = _KEY_END.match(self._text, position)
        return match.end() if match else position

    def _end_of_line(self, position: int) -> int:
        end = self._text.find("\n", position)
        return len(self._text) if end < 0 else end

    def _end_of_value(self, position: int, line: int) -> tuple[int, int]:
        """Return where the value ends (at a line end outside of brackets), and its line."""
        depth = 0
        while token := _VALUE_TOKENS.search(self._text, position):
            piece = token.group()
            if piece == "\n" and depth == 0:
                return token.start(), line
            depth += (piece in "[{") - (piece in "]}")
            line += piece.count("\n")
            position = token.end()
        return len(self._text), line


def _keys(text: str) -> Place:
    """Split a dotted key; tomllib itself reads the quotes."""
    text = text.strip()
    if not set(text) & set(".\"'"):
        return (text,)
    inner: Any = tomllib.loads(text + " = 0")
    keys: list[str] = []
    while isinstance(inner, dict):
        (key, inner), *_ = inner.items()
        keys.append(key)
    return tuple(keys)
