"""The words of figures and films in other languages, and their numbers: one table a language.

A text is written in English where it is used, ``say("{width:.3g} s wide", width=2.5)``; the table
of another language (``de.toml``) holds what stands for each. This module imports nothing of ours.
"""

import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from importlib import resources
from string import Formatter
from typing import Any

LANGUAGES = ("en", "de")
"""The first is that of the program; each other one has its table, and a comma in its numbers."""
LANGUAGE: ContextVar[str] = ContextVar("LANGUAGE", default=LANGUAGES[0])
"""What figures are drawn in, within ``speaking``."""


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Words and numbers in one of LANGUAGES."""
    token = LANGUAGE.set(language)
    try:
        yield
    finally:
        LANGUAGE.reset(token)


@cache
def table(language: str) -> Mapping[str, str]:
    """What stands for each English text; empty for English."""
    if language == LANGUAGES[0]:
        return {}
    source = resources.files("tailrace.wording") / f"{language}.toml"
    return dict(tomllib.loads(source.read_text(encoding="utf-8")))


def word(text: str) -> str:
    """What stands for a text, braces and all; the text itself where the table has none."""
    return table(LANGUAGE.get()).get(text, text)


def say(text: str, /, **values: object) -> str:
    """A text in the language that holds, with values in its places as of ``str.format``."""
    return _FORMATTER.format(word(text), **values)


def number(text: str) -> str:
    """A number that is text already, with the decimal sign of the language; or a word."""
    found = word(text)
    return text.replace(".", ",") if comma() and found == text else found


def comma() -> bool:
    """Whether numbers are written with a decimal comma."""
    return LANGUAGE.get() != LANGUAGES[0]


class _Worded(Formatter):
    """As ``str.format``, but for the decimal sign of numbers."""

    def format_field(self, value: Any, format_spec: str) -> str:
        """One value."""
        text = str(format(value, format_spec))
        return text if isinstance(value, str) or not comma() else text.replace(".", ",")


_FORMATTER = _Worded()
