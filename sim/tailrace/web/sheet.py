"""Sheets of a lesson as a page shows them: questions to predict, tables to fill in, the rest.

A sheet is Markdown. What a section is, is seen from what it holds, in any language: numbered
questions with lettered choices; numbered answers that begin with a letter in bold; commands, which
a page replaces; tables. All other sections are text.
"""

import re
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from typing import TypeAlias

from markupsafe import Markup, escape

from tailrace.errors import TailraceError
from tailrace.report.paper import UNBROKEN
from tailrace.report.table import typeset

Rows: TypeAlias = list[list[str]]
QUESTION = re.compile(r"^\d+\. ", re.M)
CHOICE = re.compile(r"^ +- ([a-z])\) (.*)$", re.M)
ANSWER = re.compile(r"^\d+\. \*\*([a-z])\*\* (.*?)(?=^\d+\. |\Z)", re.M | re.S)
FENCE = re.compile(r"^```.*?^```\n?", re.M | re.S)
INLINE = (
    (re.compile(r"\[([^\]]*)\]\([^)]*\)"), r"\1"),
    (re.compile(r"\*\*(.+?)\*\*"), r"<strong>\1</strong>"),
    (re.compile(r"(?<![\w*])\*([^*\s][^*]*?)\*(?![\w*])"), r"<em>\1</em>"),
    (re.compile(r"`([^`]*)`"), r"<code>\1</code>"),
    (re.compile(r"\^2(?!\d)"), "²"),
    (re.compile(r"\^(\d)"), r"<sup>\1</sup>"),
    (re.compile(r"\bpi\b"), "π"),
    (re.compile(r"(?<=[\w)]) x (?=[\d(])"), " × "),
    (re.compile(r"\bsqrt\((\w+)\)"), r"√\1"),
    (re.compile(r"\bsqrt(?=\()"), "√"),
    (re.compile(r"(?<=\d)e-(\d+)\b"), "\u00a0×\u00a010<sup>−\\1</sup>"),
)


class SheetError(TailraceError):
    """A sheet that is not there or cannot be understood; the message says what to change."""


@dataclass(frozen=True, kw_only=True)
class Question:
    """What is to be predicted; ``choices`` by letter; ``because`` says why the answer is right."""

    text: str
    choices: dict[str, str]
    answer: str
    because: str


@dataclass(frozen=True)
class Part:
    """A section: ``kind`` is predict, do, fill or text; its text, and what a teacher says of it."""

    kind: str
    title: str
    text: str
    answer: str = ""
    tables: tuple[tuple[Rows, Rows], ...] = ()
    questions: tuple[Question, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """Title, what stands before the first section, the sections."""

    title: str
    introduction: str
    parts: tuple[Part, ...]


def sections(text: str) -> dict[str, str]:
    """By title, what stands below each heading of the second rank; above the first by ""."""
    pieces = re.split(r"^## ", text, flags=re.M)
    return {"": pieces[0]} | {one.partition("\n")[0]: one.partition("\n")[2] for one in pieces[1:]}


def tables(text: str) -> list[Rows]:
    """All tables, each a list of rows of cells, the heading first."""
    found = []
    for block in re.findall(r"(?:^\|.*\n?)+", text, re.M):
        head, _, *body = (
            [c.strip() for c in row.strip("|").split("|")] for row in block.split("\n") if row
        )
        found.append([head, *body])
    return found


def lesson(student: str, teacher: str) -> Sheet:
    """One lesson from the text of both sheets. Raises SheetError where they do not agree."""
    asked, answers = sections(student), sections(teacher)
    above = asked.pop("")
    title, _, introduction = above.lstrip().removeprefix("# ").partition("\n")
    answered = next((one for one in answers.values() if ANSWER.search(one)), "")
    filled = next((one for one in answers.values() if tables(one)), "")
    parts, spare = [], _without_tables(filled)
    for name, text in asked.items():
        if CHOICE.search(text):
            parts.append(_predict(name, text, answered))
        elif FENCE.search(text):
            parts.append(Part("do", name, FENCE.sub("", text)))
        elif tables(text):
            pairs: tuple[tuple[Rows, Rows], ...] = tuple(
                zip_longest(tables(text), tables(filled), fillvalue=[])
            )
            if not all(_same(*pair) for pair in pairs):
                raise SheetError(f"{title}: expected the same tables in both sheets; mend one")
            parts.append(Part("fill", name, text, tables=pairs))
        else:
            answer = answers.get(name, "") or spare
            spare = "" if answer == spare else spare
            parts.append(Part("text", name, text, answer))
    known = {*asked, *(name for name, one in answers.items() if one in (answered, filled))}
    mistakes = [
        Part("aside", name, one)
        for name, one in answers.items()
        if name and name not in known and not FENCE.search(one)
    ]
    return Sheet(title, introduction, (*parts, *mistakes))


def _same(asked: Rows, told: Rows) -> bool:
    """Whether rows have the same names, and cells that are not left blank the same text."""
    named = [row[0] for row in asked] == [row[0] for row in told]
    body = zip(asked[1:], told[1:], strict=True) if named else ()
    return named and all(
        cell in ("", other) for pair in body for cell, other in zip(*pair, strict=False)
    )


def _predict(name: str, text: str, answered: str) -> Part:
    above, *items = QUESTION.split(text)
    answers = ANSWER.findall(answered)
    if len(items) != len(answers):
        raise SheetError(
            f"{name}: expected an answer (1. **a** why) to each question, found {len(answers)} "
            f"to {len(items)}; mend the teacher's sheet"
        )
    questions = []
    for one, (letter, because) in zip(items, answers, strict=True):
        choices = dict(CHOICE.findall(one))
        if letter not in choices:
            raise SheetError(f"{name}: expected one of {', '.join(choices)}, found {letter}")
        question = " ".join(one[: CHOICE.search(one).start()].split()) if choices else ""  # type: ignore[union-attr]
        questions.append(
            Question(
                text=question, choices=choices, answer=letter, because=" ".join(because.split())
            )
        )
    return Part("predict", name, above, questions=tuple(questions))


def _without_tables(text: str) -> str:
    return re.sub(r"(?:^[^\n|].*:\n\n)?(?:^\|.*\n?)+", "", text, flags=re.M)


def read(path: Path) -> str:
    """The text of a sheet. Raises SheetError."""
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as problem:
        raise SheetError(
            f"{path}: expected a sheet in Markdown, found {problem}; mend sheet or answers "
            "in [page]"
        ) from problem


def inline(text: str) -> Markup:
    """One line of Markdown as HTML; a number stays with its unit, but in code."""
    plain = typeset(" ".join(text.split()))
    pieces = [
        one if at % 2 else UNBROKEN.sub("\u00a0", one) for at, one in enumerate(plain.split("`"))
    ]
    html = str(escape("`".join(pieces)))
    for pattern, by in INLINE:
        html = pattern.sub(by, html)
    return Markup(html)


def marked(text: str) -> list[tuple[str, list[Markup] | int]]:
    """Markdown as blocks: ("p", [its line]), ("ul", items), ("table", its number from 0)."""
    found: list[tuple[str, list[Markup] | int]] = []
    count = 0
    for block in re.split(r"\n\s*\n", text.strip()):
        if block.startswith("|"):
            found.append(("table", count))
            count += 1
        elif re.match(r"- ", block):
            found.append(("ul", [inline(one) for one in re.split(r"^- ", block, flags=re.M)[1:]]))
        elif block.strip():
            found.append(("p", [inline(block)]))
    return found
