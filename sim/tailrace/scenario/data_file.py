"""Measured values of a field, read from a file of one column."""

import math
from pathlib import Path

from tailrace.errors import QuantityError, ScenarioError
from tailrace.quantities.kinds import KINDS
from tailrace.quantities.parse import parse, shortened
from tailrace.scenario.files import Files
from tailrace.scenario.target import Target

LARGEST = 5_000_000
"""Bytes."""
LEAST_VALUES = 5


def read_values(files: Files, name: str, target: Target) -> tuple[list[float], str]:
    """Read values in SI, and the SHA-256 of the file.

    ``name``: of a file in UTF-8; the first line is the unit (``mm``; ``1`` for plain numbers), then
    one number a line. Empty lines and lines that begin with # are passed over. ``target``: the
    field that they are of. Raises ScenarioError with the file, the line, what was
    expected and what was found.

    Returns
    -------
    list of float, SI unit of the field
    str
        SHA-256 of the file.
    """
    text, path = files.text(name, "a file of values", LARGEST), files.where(name)
    numbered = enumerate((line.strip() for line in text.splitlines()), start=1)
    lines = [(number, line) for number, line in numbered if line and not line.startswith("#")]
    if not lines:
        raise ScenarioError([f"{path}: expected a unit and numbers below it, found no line"])
    (_, unit), *rows = lines
    if target.kind not in KINDS and unit != "1":
        raise ScenarioError(
            [f"{path}:1: expected 1 for plain numbers in the first line, found {shortened(unit)}"]
        )
    values = [_value(path, number, text, unit, target) for number, text in rows]
    if len(set(values)) < LEAST_VALUES:
        raise ScenarioError(
            [
                f"{path}: expected at least {LEAST_VALUES} values that differ, found "
                f"{len(set(values))}; add values"
            ]
        )
    return values, files.hashes()[name]


def _value(path: Path, number: int, text: str, unit: str, target: Target) -> float:
    try:
        if target.kind in KINDS:
            return parse(f"{text} {unit}", target.kind)
        value = float(text)
        if math.isfinite(value) and target.bounds[0] <= value <= target.bounds[1]:
            return value
    except (QuantityError, ValueError) as error:
        raise ScenarioError([f"{path}:{number}: {error}"]) from None
    raise ScenarioError(
        [
            f"{path}:{number}: expected a number from {target.bounds[0]:g} to "
            f"{target.bounds[1]:g}, found {shortened(text)}"
        ]
    )
