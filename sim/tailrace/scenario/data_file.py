"""Measured values of a field, read from a file of one column."""

import hashlib
import math

from tailrace.errors import QuantityError, ScenarioError
from tailrace.quantities.kinds import KINDS
from tailrace.quantities.parse import parse, shortened

LARGEST = 5_000_000
"""Bytes."""
LEAST_VALUES = 5


def read_values(path, target) -> tuple[list[float], str]:
    """Read values in SI, and the SHA-256 of the file.

    Parameters
    ----------
    path : pathlib.Path
        UTF-8; the first line is the unit (``mm``; ``1`` for plain numbers), then one number a
        line. Empty lines and lines that begin with # are passed over.
    target : Target
        The field that they are of.

    Returns
    -------
    list of float, SI unit of the field
    str
        SHA-256 of the file.

    Raises
    ------
    ScenarioError
        One sentence: the file, the line, what was expected, what was found.
    """
    content = _content(path)
    lines = _lines(path, content)
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
    return values, hashlib.sha256(content).hexdigest()


def _content(path):
    try:
        with path.open("rb") as stream:
            content = stream.read(LARGEST + 1)
        if len(content) > LARGEST:
            raise ScenarioError([f"{path}: expected at most 5 MB, found more; thin it out"])
        return content
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or "a name that cannot be one").lower()
        raise ScenarioError(
            [f"expected a file of values, found {reason} at {str(path)[:120]}; correct the name"]
        ) from None


def _lines(path, content):
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ScenarioError([f"{path}: expected UTF-8 text, found other bytes"]) from None
    numbered = enumerate((line.strip() for line in text.splitlines()), start=1)
    return [(number, line) for number, line in numbered if line and not line.startswith("#")]


def _value(path, number, text, unit, target):
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
