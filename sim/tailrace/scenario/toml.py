"""Tables written as TOML, which Python reads but does not write."""

import json
import re
from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any

from tailrace.errors import ScenarioError

BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


def as_toml(tables: Mapping[str, Any]) -> str:
    """The text of a scenario file with these tables, each below its heading.

    Raises ScenarioError for something that TOML cannot hold.
    """
    lines = [_line(key, value) for key, value in tables.items() if not _has_heading(value)]
    for key, value in tables.items():
        if isinstance(value, Mapping):
            lines += ["", f"[{_key(key)}]", *(_line(*pair) for pair in value.items())]
        elif _has_heading(value):
            for one in value:
                lines += ["", f"[[{_key(key)}]]", *(_line(*pair) for pair in one.items())]
    return "\n".join(lines).lstrip("\n") + "\n"


def in_toml(value: Any) -> str:
    """One value as it is written behind a key; raises as ``as_toml``."""
    # numpy's scalars and arrays become those of Python
    value = value.tolist() if hasattr(value, "tolist") else value
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, date | datetime | time):
        return value.isoformat()
    if isinstance(value, Mapping):
        return "{ " + ", ".join(_line(*pair) for pair in value.items()) + " }" if value else "{}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(in_toml(one) for one in value) + "]"
    raise ScenarioError(
        [f"expected texts, numbers, lists and tables, found {type(value).__name__}; leave it out"]
    )


def _has_heading(value: Any) -> bool:
    listed = isinstance(value, list | tuple) and len(value) > 0
    return isinstance(value, Mapping) or (listed and all(isinstance(one, Mapping) for one in value))


def _line(key: object, value: Any) -> str:
    return f"{_key(key)} = {in_toml(value)}"


def _key(key: object) -> str:
    return str(key) if BARE_KEY.fullmatch(str(key)) else in_toml(str(key))
