"""Where in a TOML text a key stands.

The text is one that ``tomllib`` has accepted: only keys, headers and the ends of values are
looked for, and nothing is checked again.
"""

import re
import tomllib
from typing import Any

from tailrace.scenario.problems import Place

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


class Lines:
    """Line numbers by key path.

    Parameters
    ----------
    text : str
        Valid TOML.
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
