"""Typical tolerances of makers, for a scenario that does not say how well its values are known."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from tailrace.parts.usual import TOLERANCES
from tailrace.scenario.changed import Made
from tailrace.scenario.model import Document
from tailrace.scenario.rules import RESERVED, table, tables


def with_typical(scenario: Made) -> Made:
    """The scenario with ``[[uncertain]]`` in place of its own: what it gives, as ``TOLERANCES``."""
    rows = list(_rows(scenario.tables))
    built = {
        key: value for key, value in scenario.tables.items() if key not in ("correlated", "accept")
    } | {"uncertain": rows}
    return replace(scenario, tables=built, document=Document.model_validate(built))


def _rows(document: dict[str, Any]) -> Iterator[dict[str, Any]]:
    listed = [
        (one["part"], f"path.{_quoted(one['name'])}", one) for _, one in tables(document, "path")
    ]
    listed += [(name, name, table(document, name)) for name in RESERVED]
    for kind, where, values in listed:
        for key in values:
            width = TOLERANCES.get((kind, key))
            if width is None:
                continue
            number, _, unit = width.partition(" ")
            wide = {"relative": float(number) / 100} if unit == "%" else {"half_width": width}
            yield {"field": f"{where}.{key}", "distribution": "uniform", **wide}


def _quoted(name: str) -> str:
    mark = "'" if '"' in name else '"'
    return f"{mark}{name}{mark}"
