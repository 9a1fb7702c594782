"""What a change does at the bench, in words: two scenario documents compared."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, TypeAlias

from tailrace.report.numbers import significant
from tailrace.scenario.changed import document_with, injected_share
from tailrace.studies.improving.result import Improvement

Table: TypeAlias = Mapping[str, Any]
"""As ``tomllib`` reads it."""
SETTINGS = ("method", "injection", "detector")
"""Tables whose changes are settings, not parts."""
OMITTED = ("name", "part", "heater", "tanks", "stated_temperature", "stated_flow")
"""Keys that a description gives otherwise, or that belong to the model and not to the part."""

NUMBER = re.compile(r"(?<![\w.])\d+\.\d+(?![\w.])")
MOST_WRITTEN = 4
"""Significant digits up to which a value stays as it was written; of others three are told."""


@dataclass(frozen=True)
class Work:
    """What is to be done in one step.

    ``tasks``: one line for each part or setting that changes; ``parts``: what has to be at hand,
    one line a part; none where only settings change.
    """

    tasks: tuple[str, ...]
    parts: tuple[str, ...]


def works(improvement: Improvement) -> tuple[Work, ...]:
    """What is to be done in each step of the best order; at the start, nothing."""
    document = tomllib.loads(improvement.scenario.text)
    documents = [document_with(document, step.taken) for step in improvement.steps]
    return (Work((), ()), *map(work, documents, documents[1:]))


def injected_lines(improvement: Improvement) -> list[str]:
    """One sentence for each step that injects another volume."""
    document = tomllib.loads(improvement.scenario.text)
    found = []
    for last, step in pairwise(improvement.steps):
        before, after = (document_with(document, one.taken) for one in (last, step))
        share = injected_share(before, after)
        if share != 1:
            was, now = (one["injection"]["volume"] for one in (before, after))
            found.append(
                f"Step {step.number}, {step.change}, injects {now} in place of {was}: "
                f"{significant(100 * abs(share - 1), 2)} % {'less' if share < 1 else 'more'} of "
                "the sample, which signal and signal to noise count."
            )
    return found


def work(before: Table, after: Table) -> Work:
    """What leads from one scenario document to another; values as they are written in the file."""
    tasks, parts = [], []
    old = {one["name"]: one for one in before["path"]}
    new = {one["name"]: one for one in after["path"]}
    for name in old:
        if name not in new:
            tasks.append(f"{name}: take it out")
    for index, (name, one) in enumerate(new.items()):
        if name not in old:
            tasks.append(f"{name}: put it in {_where(after['path'], index)}: {described(one)}")
            parts.append(f"{name}: {described(one)}")
        elif one != old[name]:
            tasks.append(f"{name}: {_changed(old[name], one)}")
            parts.append(f"{name}: {described(one)}")
    for table in SETTINGS:
        if before.get(table, {}) != after.get(table, {}):
            tasks.append(f"{table}: {_changed(before.get(table, {}), after.get(table, {}))}")
    return Work(tuple(tasks), tuple(parts))


def settings(table: Table, omitted: Collection[str] = ()) -> str:
    """Keys and values of a table as they are written: ``relative 0.05; kind tolerance``."""
    return "; ".join(_told(key, value) for key, value in table.items() if key not in omitted)


def described(part: Table) -> str:
    """An entry of ``path`` in words: ``tube, bore 0.12 mm, length 400 mm``."""
    words = [f"heated {part['part']}" if part.get("heater") else part["part"]]
    words += [_told(key, value) for key, value in part.items() if key not in OMITTED]
    return ", ".join(words)


def _changed(old: Table, new: Table) -> str:
    """The keys that differ: ``bore 0.17 mm to 0.12 mm``."""
    if new.get("part") != old.get("part"):
        return f"put {described(new)} in its place"
    found = []
    for key in dict.fromkeys((*old, *new)):
        if old.get(key) == new.get(key):
            continue
        if key not in new:
            found.append(f"{_key(key)} no longer {_value(old[key])}")
        elif key not in old:
            found.append(_told(key, new[key]))
        elif key == "bends":
            found.append(f"{_told(key, new[key])}, before {_told(key, old[key])}")
        elif _value(old[key]) == _value(new[key]):
            found.append(f"{_key(key)} {old[key]} to {new[key]}")  # alike but for late digits
        else:
            found.append(f"{_key(key)} {_value(old[key])} to {_value(new[key])}")
    return ", ".join(found)


def _where(path: Sequence[Table], index: int) -> str:
    """Between which parts a part stands."""
    before = path[index - 1]["name"] if index else None
    after = path[index + 1]["name"] if index + 1 < len(path) else None
    if before and after:
        return f"between {before} and {after}"
    return f"behind {before}" if before else f"before {after}"


def _key(key: str) -> str:
    return key.replace("_", " ")


def _told(key: str, value: object) -> str:
    if key == "bends" and isinstance(value, list) and all(isinstance(one, dict) for one in value):
        return _lie(value)
    return f"{_key(key)} {_value(value)}"


def _lie(stretches: Sequence[Table]) -> str:
    """How a tube lies: ``straight``, or ``100 mm straight, then 300 mm on a radius of 20 mm``."""
    if any(set(one) != {"length", "radius"} for one in stretches):
        return f"bends {'; '.join(map(_value, stretches))}"
    if all(one["radius"] == "straight" for one in stretches):
        return "straight"
    return ", then ".join(
        f"{_value(one['length'])} straight"
        if one["radius"] == "straight"
        else f"{_value(one['length'])} on a radius of {_value(one['radius'])}"
        for one in stretches
    )


def _few_digits(number: re.Match[str]) -> str:
    """Three digits of a number that was computed; what a person wrote has fewer and stays."""
    value = float(number[0])
    if value == 0 or len(number[0].replace(".", "").lstrip("0")) <= MOST_WRITTEN:
        return number[0]
    places = max(0, 2 - math.floor(math.log10(value)))
    return f"{value:.{places}f}"


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return " and ".join(f"{_key(key)} {_value(inner)}" for key, inner in value.items())
    if isinstance(value, list):
        return "; ".join(_value(one) for one in value)
    return NUMBER.sub(_few_digits, str(value))
