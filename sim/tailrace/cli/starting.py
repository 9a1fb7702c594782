"""``tailrace examples`` and ``new``: a scenario to begin with."""

import json
import shutil
from collections.abc import Callable, Iterator
from importlib import resources
from math import isfinite
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
    "retention": ("Retention factor of the solute, or its time as recorded", "retention", "3"),
    "second": ("Retention factor or time of a second solute, or none", "second", "none"),
    "size": (
        "Formula, such as C8H10N4O2, or molar volume (in mL/mol about the molar mass in g/mol)",
        "size",
        "200 mL/mol",
    ),
    "injected": ("Injected volume", "volume", "1 uL"),
    "loop": (
        "Injected from a loop in the stream: its bore, such as 0.25 mm, or none",
        "bore or none",
        "none",
    ),
    "bore": ("Bore of the tubes", "bore", "0.12 mm"),
    "length_before": ("Length of tube before the column", "length", "350 mm"),
    "column_bore": ("Bore of the column", "bore", "2.1 mm"),
    "column_length": ("Length of the column", "length", "100 mm"),
    "particle_diameter": ("Diameter of its particles", "particle diameter", "2.7 um"),
    "particle": ("Kind of particles: core-shell, fully porous", "particle", "core-shell"),
    "plates": (
        "Its plates as certified, or none: from the curve of a good column",
        "plates",
        "none",
    ),
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

    answers = {key: default for key, (_, _, default) in QUESTIONS.items()} | answers
    shares = volume_fractions(answers["eluent"])
    template = resources.files("tailrace.scenario").joinpath("new.toml").read_text("utf-8")
    text = Template(template).substitute(
        answers
        | {
            "title": " ".join(answers["title"].split()),
            "title_text": json.dumps(answers["title"], ensure_ascii=False),
            "eluent": ", ".join(f"{name} = {share:g}" for name, share in shares.items()),
            "solutes": "\n".join(_solutes(answers)),
            "injection": _injection(answers["loop"], answers["injected"]),
            "plates": _plates(answers["plates"]),
            "shorter": show(parse(answers["length_behind"], "length") / 2, "length"),
        }
    )
    Scenario.from_text(text, file.parent, name=file.name)
    return text


NONE = ("", "none", "no", "-")


def _solutes(answers: dict[str, str]) -> Iterator[str]:
    """The tables of one or two solutes, of one size."""
    size = answers["size"].strip()
    key = "molar_volume" if "/" in size else "formula"
    for name, asked in (("solute", "retention"), ("solute 2", "second")):
        text = answers[asked].strip()
        if text.lower() in NONE:
            continue
        factor = f"retention_factor = {float(text):g}" if _is_number(text) else ""
        yield (
            f'[[solutes]]\nname             = "{name}"\n'
            + (factor or f'retention_time   = "{text}"')
            + f'\n{key:<17}= "{size}"\n'
        )


def _injection(loop: str, volume: str) -> str:
    lines = [
        'shape  = "plug"          # also: loop, washout, gaussian, signal',
        f'volume = "{volume}"',
    ]
    if loop.lower() not in NONE:
        lines = [
            'shape     = "loop"       # in the stream; also: plug, washout, gaussian, signal',
            f'volume    = "{volume}"       # filled with sample; of a larger loop give loop_volume',
            f'loop_bore = "{loop}"',
        ]
    return "\n".join(lines)


def _plates(text: str) -> str:
    if text.lower() in NONE:
        return "# plates          = 17000     # as certified; without it those of a good column"
    return f"plates            = {float(text):g}"


def _is_number(text: str) -> bool:
    try:
        return isfinite(float(text))
    except ValueError:
        return False


def _number(text: str, more: str = "") -> None:
    if not _is_number(text):
        found = text.strip()[:60]
        raise ValueError(f'expected a number such as 3{more}, found "{found}"')


def _retention(text: str) -> None:
    from tailrace.quantities.parse import parse

    try:
        parse(text, "programme time")
    except TailraceError:
        _number(text, ' or a time such as "3.2 min"')


def _size(text: str) -> None:
    from tailrace.eluent.diffusion import schroeder
    from tailrace.quantities.parse import parse

    if "/" in text or any(one.isspace() for one in text.strip()):
        parse(text, "molar volume")
    else:
        schroeder(text.strip())


def _particle(text: str) -> None:
    from tailrace.parts.column.part import CORE_RATIO, kind_of_particle

    if kind_of_particle(text) not in CORE_RATIO:
        raise ValueError(f"expected {' or '.join(CORE_RATIO)}")


def _bore(text: str) -> None:
    from tailrace.quantities.parse import parse

    parse(text, "bore")


READERS: dict[str, Callable[[str], object]] = {
    "text": str,
    "mixture": volume_fractions,
    "retention": _retention,
    "second": _retention,
    "bore or none": _bore,
    "plates": _number,
    "size": _size,
    "particle": _particle,
}
"""What reads an answer, by its kind; another kind is one of quantities."""
OPTIONAL = ("second", "bore or none", "plates")
"""Kinds of answers of which there may be none."""


def _reader(kind: str) -> Callable[[str], str]:
    """Refuses an answer that is none of its kind, so that it is asked again."""

    def read(text: str) -> str:
        from tailrace.quantities.parse import parse

        try:
            if kind in READERS and not (kind in OPTIONAL and text.lower() in NONE):
                READERS[kind](text)
            elif kind not in READERS:
                parse(text, kind)
        except (TailraceError, ValueError) as error:
            raise click.UsageError(str(error)) from None
        return text

    return read
