"""``--engine``: one option of all commands that multiply, and the guide says why others lack it."""

import re

import pytest
from reference.tree import ROOT

from tailrace.cli import main
from tailrace.cli.main import COMMANDS
from tailrace.studies.batch import ENGINES

HAVE = {
    *("sweep", "improve", "tolerance", "compare", "fit"),
    *("diagnose", "protocol", "practice", "figures"),
}
WITHOUT = ("run", "adjust", "qualify", "verify", "film", "page", "bench")
"""Commands that simulate, and have no such option."""


def options():
    every = {name: main.get_command(None, name).params for name in COMMANDS}
    return {name: [one for one in found if one.name == "engine"] for name, found in every.items()}


def test_every_command_that_multiplies_has_the_same_option():
    found = {name: one for name, one in options().items() if one}
    assert set(found) == HAVE
    (said,) = {(*one.opts, *one.type.choices, one.default, one.help) for (one,) in found.values()}
    assert said[:4] == ("--engine", *ENGINES, "product")


@pytest.mark.parametrize("name", sorted([*HAVE, *WITHOUT]))
def test_the_guide_says_of_each_command_what_is_marched(name):
    page = (ROOT / "scenarios" / "guide" / "commands.md").read_text(encoding="utf-8")
    (said,) = re.findall(r"\*\*Products and marches\.\*\*.*?\n\n", page, re.S)
    with_option, without = said.split("Other commands")
    assert f"`{name}`" in (with_option if name in HAVE else without)
