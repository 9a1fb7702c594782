"""Tables that pages show as the program's own: a fence that names its command, compared with it."""

import re
import shlex

from click.testing import CliRunner

from reference.tree import ROOT
from tailrace.cli import main

FENCE = re.compile(r"^```text tailrace ([^\n]+)\n(.*?)^```$", re.M | re.S)
"""Of a page: the command's arguments, and the tables that it prints, parted by an empty line."""


def pages():
    """The pages for people."""
    return [ROOT / "README.md", *sorted((ROOT / "scenarios").glob("*/*.md"))]


def shown(page):
    """(arguments, tables) of each fence of a page; a table is a text that begins with its title."""
    for arguments, body in FENCE.findall(page.read_text(encoding="utf-8")):
        yield arguments, body.strip().split("\n\n")


def printed(arguments):
    """Tables of a command's output, by title up to what stands in brackets."""
    done = CliRunner().invoke(main, _placed(arguments))
    if done.exit_code not in (0, 1) or done.stderr.startswith("Usage"):
        raise AssertionError(f"tailrace {arguments}: {done.exception!r} {done.stderr}")
    return {title(block): block.strip() for block in done.stdout.split("\n\n") if block.strip()}


def title(table):
    """First line of a table without what stands in brackets."""
    return table.strip().splitlines()[0].split(" (")[0]


def head(table):
    """Words of a table from its title to its first rule, whatever the width of its columns."""
    lines = table.strip().splitlines()
    rule = next((k for k, line in enumerate(lines) if set(line) == {"-"}), len(lines))
    return [word for line in lines[:rule] for word in line.split()]


def _placed(arguments):
    """Paths of scenarios are relative to the project, wherever the test runs."""
    words = shlex.split(arguments)
    return [str(ROOT / word) if word.startswith("scenarios/") else word for word in words]
