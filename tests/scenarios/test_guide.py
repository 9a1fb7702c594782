"""README and guide against the program: keys, commands, options, links, examples, tables."""

import json
import re

import pytest
from click.testing import CliRunner
from reference.printed import head, pages, printed, shown, title
from reference.tree import ROOT

import tailrace
from tailrace.cli import main
from tailrace.cli.main import COMMANDS

GUIDE = ROOT / "scenarios" / "guide"
PAGES = [*pages(), ROOT / "DEVELOPERS.md", ROOT / ".github" / "CONTRIBUTING.md"]
CODE = re.compile(r"`([^`\n]+)`|^ {4}(\S.*)$", re.M)
QUICK = {
    "improve": "improve scenarios/decide/theory-ranks-otherwise.toml",
    "tolerance": "tolerance scenarios/tolerance/column-test.toml --samples 100",
}
"""Prints tables of the same kinds sooner than the command that a page names."""


def names(paths):
    return [path.relative_to(ROOT).as_posix() for path in paths]


def text_of(page):
    return page.read_text(encoding="utf-8")


def code(page):
    """Pieces of code of a page: in the line, or a line of its own."""
    return [inline or line for inline, line in CODE.findall(text_of(page))]


def options(command):
    """Names of the options of a command."""
    found = main.get_command(None, command)
    return {name for one in found.params for name in one.opts if name.startswith("--")}


def test_the_readme_is_short_and_has_one_test_command():
    readme = text_of(ROOT / "README.md")
    assert len(readme.encode()) < 12_000
    assert sum("-m pytest" in piece for piece in code(ROOT / "README.md")) == 1
    assert readme.count("![") == 2


def test_the_index_names_every_page_of_the_guide():
    listed = set(re.findall(r"\]\(([\w-]+\.md)\)", text_of(GUIDE / "README.md")))
    assert listed == {path.name for path in GUIDE.glob("*.md")} - {"README.md"}


@pytest.mark.parametrize("page", PAGES, ids=names(PAGES))
def test_links_and_named_files_are_there(page):
    links = re.findall(r"\]\((?!\w+:|#)([^)#]+)", text_of(page))
    missing = [link for link in links if not (page.parent / link).exists()]
    for piece in code(page):
        for name in re.findall(r"(?:scenarios|benchmarks|tests)/[\w./-]+\.\w+", piece):
            if not (ROOT / name).exists():
                missing.append(name)
    assert missing == []


@pytest.mark.parametrize("page", PAGES, ids=names(PAGES))
def test_commands_and_options_exist(page):
    everywhere = {one for command in COMMANDS for one in options(command)}
    wrong = []
    for piece in code(page):
        ours = re.search(r"(?:^|/)tailrace ([a-z]+)\b(.*)", piece)
        if ours and ours[1] not in COMMANDS:
            wrong.append(piece)
        elif ours:
            asked = set(re.findall(r"(?<!\S)\[?(--[a-z][\w-]*)", ours[2])) - {"--help"}
            wrong += sorted(asked - options(ours[1]))
        elif piece.startswith("--") and piece.split()[0] not in everywhere:
            wrong.append(piece)
    assert wrong == []


def test_every_command_is_described():
    assert set(re.findall(r"^\| `tailrace (\w+)", text_of(GUIDE / "commands.md"), re.M)) == set(
        COMMANDS
    )


def test_every_key_is_described_and_no_other():
    schema = json.loads(CliRunner().invoke(main, ["schema"]).stdout)
    tables = [schema, *schema["$defs"].values()]
    known = {key for table in tables for key in table.get("properties", {})} - {"title"}
    text = text_of(GUIDE / "scenario-file.md")
    rows = [line for line in text.splitlines() if line.startswith("| ")]
    said = {key for row in rows for key in re.findall(r"\b[a-z]+(?:_[a-z]+)*\b", " ".join(
        re.findall(r"`([^`]+)`", row)))}  # fmt: skip
    assert known - said == set()
    first = {key for row in rows for key in re.findall(r"`([a-z_]+)`", row.split("|")[1])}
    assert first - known == set()


@pytest.mark.parametrize("page", PAGES, ids=names(PAGES))
def test_examples_of_scenarios_load(page, tmp_path):
    for number, example in enumerate(
        re.findall(r"^```toml\n(.*?)^```", text_of(page), re.M | re.S)
    ):
        file = tmp_path / f"{number}.toml"
        file.write_text(example, encoding="utf-8")
        assert tailrace.load(file).itinerary().passages


@pytest.mark.parametrize("command", ["run", *QUICK])
def test_printed_tables_are_those_of_today(command):
    fences = [
        (page, arguments, tables)
        for page in PAGES
        for arguments, tables in shown(page)
        if arguments.split()[0] == command
    ]
    assert fences
    for page, arguments, tables in fences:
        today = printed(QUICK.get(command, arguments))
        for table in tables:
            if command == "run":
                assert table == today[title(table)], page
            assert head(table) == head(today[title(table)]), page


def test_the_code_for_python_runs(tmp_path, monkeypatch):
    (tmp_path / "scenarios").symlink_to(ROOT / "scenarios")
    monkeypatch.chdir(tmp_path)
    pieces = re.findall(r"^```python\n(.*?)^```", text_of(GUIDE / "python.md"), re.M | re.S)
    names = {}
    for piece in pieces:
        exec(compile(piece, "python.md", "exec"), names)
    assert len(pieces) >= 5
    assert names["short"].document.path[0].length == pytest.approx(0.1)
    assert names["made"].shape == (3,)
    assert names["longer"].itinerary().passages[-1][0].name == "cell"
    assert (tmp_path / "tube.h5").is_file()
    # The lines for a paper: what they say of other studies holds for those of the page, too.
    width = 84 / 25.4
    with names["wanting"](names["size_of"]("84mm", font=8)):
        pictures = [names[study].plot() for study in ("spread", "best")]
    for one in (names["picture"], *names["every"].values(), *pictures):
        assert one.figure.get_size_inches()[0] == pytest.approx(width, rel=1e-3)
    assert set(names["every"]) >= {"peaks", "sources", "stages"}
