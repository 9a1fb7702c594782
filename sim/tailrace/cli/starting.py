"""``tailrace examples`` and ``new``: a scenario to begin with."""

import json
import shutil
from collections.abc import Callable
from importlib import resources
from pathlib import Path
from string import Template

import click

from tailrace.cli.reference import volume_fractions
from tailrace.cli.studying import not_writable
from tailrace.errors import TailraceError


@click.command()
@click.argument("name", required=False)
@click.option(
    "--to",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Copy to this folder, made where it is missing; without a NAME all of them.",
)
@click.option("--force", is_flag=True, help="Write over files that are there.")
def examples(name: str | None, to: Path | None, force: bool) -> None:
    """List the scenarios that come with tailrace, or copy the one called NAME.

    It is copied to this folder, or to that of --to, together with the data files that it needs.

    \b
    tailrace examples
    tailrace examples inherited-core-shell
    tailrace run inherited-core-shell.toml
    """
    from tailrace.scenario.examples import examples as known
    from tailrace.scenario.problems import unknown

    found = known()
    if name is None and to is None:
        width = max(map(len, found))
        for key, one in found.items():
            click.echo(f"{key:{width}}  {one.title}")
        return
    if name is not None and name not in found:
        raise TailraceError(f"NAME: {unknown('example', name, found)}")
    chosen = found.values() if name is None else [found[name]]
    copied = _copy([path for one in chosen for path in (one.path, *one.files)], to, force)
    for path in copied:
        click.echo(f"wrote {path}", err=True)


def _copy(paths: list[Path], to: Path | None, force: bool) -> list[Path]:
    """Copy files into one folder, all of them or none."""
    folder = to or Path()
    copies = {folder / path.name: path for path in paths}
    there = [copy for copy in copies if copy.exists()]
    if there and not force:
        raise TailraceError(
            f"{there[0]}: expected a name that is free, found a file; name another folder with "
            "--to, or write over it with --force"
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for copy, path in copies.items():
            shutil.copyfile(path, copy)
    except OSError as problem:
        raise not_writable(folder, problem) from problem
    return list(copies)


QUESTIONS = {
    "title": ("Title", "text", "A column and its instrument"),
    "flow": ("Flow rate", "flow rate", "0.5 mL/min"),
    "temperature": ("Temperature", "temperature", "30 degC"),
    "eluent": ("Eluent, percent by volume", "mixture", "water 40, acetonitrile 60"),
    "retention": ("Retention factor of the solute", "number", "3"),
    "molar_volume": ("Its molar volume at the boiling point", "molar volume", "200 mL/mol"),
    "injected": ("Injected volume", "volume", "1 uL"),
    "bore": ("Bore of the tubes", "bore", "0.12 mm"),
    "length_before": ("Length of tube before the column", "length", "350 mm"),
    "column_bore": ("Bore of the column", "bore", "2.1 mm"),
    "column_length": ("Length of the column", "length", "100 mm"),
    "particle_diameter": ("Diameter of its particles", "particle diameter", "2.7 um"),
    "particle": ("Kind of particles: core-shell, fully porous", "particle", "core-shell"),
    "length_behind": ("Length of tube from the column to the cell", "length", "250 mm"),
    "cell": ("Volume of the flow cell", "volume", "2.5 uL"),
    "time_constant": ("Time constant of the detector", "response time", "0.1 s"),
}
"""What is asked: the question, the kind of answer, and what an empty answer means."""


@click.command()
@click.argument("file", type=click.Path(path_type=Path), default=Path("scenario.toml"))
@click.option("--defaults", is_flag=True, help="Ask nothing: an invented instrument.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
def new(file: Path, defaults: bool, force: bool) -> None:
    """Write a commented scenario to FILE, scenario.toml without it, from a few questions."""
    from tailrace.records.store import write_bytes

    if file.exists() and not force:
        raise TailraceError(
            f"{file}: expected a name that is free, found a file; name another, or write over it "
            "with --force"
        )
    answers = {
        key: default if defaults else click.prompt(question, default, value_proc=_reader(kind))
        for key, (question, kind, default) in QUESTIONS.items()
    }
    text = scenario_text(answers, file)
    try:
        write_bytes(file, text.encode())
    except OSError as problem:
        raise not_writable(file, problem) from problem
    click.echo(f"wrote {file}; now: tailrace check {file}", err=True)


def scenario_text(answers: dict[str, str], file: Path) -> str:
    """The text of a scenario with these answers, by the keys of ``QUESTIONS``.

    Raises ScenarioError where the answers make no sound scenario in this file.
    """
    from tailrace.quantities.kinds import show
    from tailrace.quantities.parse import parse
    from tailrace.scenario.scenario import Scenario

    shares = volume_fractions(answers["eluent"])
    template = resources.files("tailrace.scenario").joinpath("new.toml").read_text("utf-8")
    text = Template(template).substitute(
        answers
        | {
            "title": " ".join(answers["title"].split()),
            "title_text": json.dumps(answers["title"], ensure_ascii=False),
            "eluent": ", ".join(f"{name} = {share:g}" for name, share in shares.items()),
            "retention": f"{float(answers['retention']):g}",
            "shorter": show(parse(answers["length_behind"], "length") / 2, "length"),
        }
    )
    Scenario.from_text(text, file.parent, name=file.name)
    return text


def _number(text: str) -> None:
    try:
        float(text)
    except ValueError:
        found = text.strip()[:60]
        raise ValueError(f'expected a number such as 3, found "{found}"') from None


def _reader(kind: str) -> Callable[[str], str]:
    """Refuses an answer that is none of its kind, so that it is asked again."""

    def read(text: str) -> str:
        from tailrace.parts.column.part import CORE_RATIO, kind_of_particle
        from tailrace.quantities.parse import parse

        try:
            if kind == "mixture":
                volume_fractions(text)
            elif kind == "number":
                _number(text)
            elif kind == "particle" and kind_of_particle(text) not in CORE_RATIO:
                raise ValueError(f"expected {' or '.join(CORE_RATIO)}")
            elif kind not in ("text", "particle"):
                parse(text, kind)
        except (TailraceError, ValueError) as error:
            raise click.UsageError(str(error)) from None
        return text

    return read
