"""The ways in which tailrace says no; each message says what to change."""

import unicodedata
from collections.abc import Iterable


def unprintable(text: str) -> str:
    """Characters of a text that steer a terminal, turn its order round, or are no characters."""
    if text.isascii() and text.isprintable():  # as nearly every text is
        return ""
    return "".join(c for c in text if _steers(c))


def printable(text: str) -> str:
    """A text with a question mark for each such character."""
    return "".join("?" if _steers(c) else c for c in text)


def _steers(character: str) -> bool:
    kind, code = unicodedata.category(character), ord(character)
    turns = 0x202A <= code <= 0x202E or 0x2066 <= code <= 0x2069
    return (kind in ("Cc", "Cs") and character not in "\n\t") or turns or (code & 0xFFFE) == 0xFFFE


class TailraceError(Exception):
    """Base of every error that tailrace raises on purpose.

    ``exit_code`` is what the command line answers: 2 where the request is wrong, 3 where the
    numbers could not be computed as asked.
    """

    exit_code = 2


class QuantityError(TailraceError):
    """A text that should be a number with a unit is not, or has the wrong kind of unit."""


class ScenarioError(TailraceError):
    """A scenario file is wrong. ``problems`` holds one sentence for each thing to mend."""

    def __init__(self, problems: Iterable[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(self.problems))


class PartError(TailraceError):
    """A part has a dimension or an option that it cannot have."""


class BudgetError(TailraceError):
    """The journey would need more memory or time than the stated budget."""


class MeasureError(TailraceError):
    """The metric asked for does not exist on this peak (for example a width it does not have)."""

    exit_code = 3


class AccuracyError(TailraceError):
    """The numbers could not be computed to the asked accuracy."""

    exit_code = 3
