"""Where in a TOML text a key stands.

The text is one that ``tomllib`` has accepted: only keys, headers and the ends of values are
looked for, and nothing is checked again.
"""

import re
import tomllib

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

    def __init__(self, text):
        self._text = text.replace("\r\n", "\n")
        self._found = {}
        self._counts = {}
        self._scan()

    def line(self, path) -> int:
        """Return the line of a key, or of the nearest table or key around it.

        Parameters
        ----------
        path : tuple of str and int
            Keys, and positions (from 0) in arrays of tables.

        Returns
        -------
        int
            Counted from 1; 1 where nothing of the path is written in the file.
        """
        for length in range(len(path), 0, -1):
            line = self._found.get(tuple(path[:length]))
            if line is not None:
                return line
        return 1

    def _scan(self):
        position, line, table = 0, 1, ()
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
                position = _KEY_END.match(self._text, start).end()
                table = self._open(_keys(self._text[start:position]), array, line)
                position = self._end_of_line(position)
            else:
                end = _KEY_END.match(self._text, position).end()
                self._record(table + self._resolve(table, _keys(self._text[position:end])), line)
                position, line = self._end_of_value(end, line)

    def _open(self, keys, array, line):
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

    def _resolve(self, table, keys):
        """Put in the position of the newest table of every array on the way."""
        path = ()
        for key in keys:
            path += (key,)
            if table + path in self._counts:
                path += (self._counts[table + path],)
        return path

    def _record(self, path, line):
        for length in range(1, len(path) + 1):
            self._found.setdefault(path[:length], line)

    def _end_of_line(self, position):
        end = self._text.find("\n", position)
        return len(self._text) if end < 0 else end

    def _end_of_value(self, position, line):
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


def _keys(text):
    """Split a dotted key; tomllib itself reads the quotes."""
    text = text.strip()
    if not set(text) & set(".\"'"):
        return (text,)
    inner, keys = tomllib.loads(text + " = 0"), []
    while isinstance(inner, dict):
        (key, inner), *_ = inner.items()
        keys.append(key)
    return tuple(keys)
