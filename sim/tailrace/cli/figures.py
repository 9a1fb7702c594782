"""``tailrace figures``: the figures that explain what happens to a band, computed from scratch."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tailrace.cli.studying import make_folder, progress_bar, write_files
from tailrace.errors import TailraceError
from tailrace.records.provenance import own_version

if TYPE_CHECKING:
    from tailrace.report.gallery import Hung
    from tailrace.scenario.scenario import Scenario

FORMATS = ("svg", "pdf", "png")
SIZES = ("slide", "column", "page")
"""Names only, so that the help loads nothing; ``tailrace.figures.style`` holds them."""


@click.command()
@click.argument("names", nargs=-1, metavar="[NAME]...")
@click.option(
    "--scenario",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The instrument to show, in place of the gallery's own; its least retained solute.",
)
@click.option(
    "--size", type=click.Choice(SIZES), default="page", show_default=True, help="What to fill."
)
@click.option(
    "--format",
    "formats",
    default="svg,png",
    show_default=True,
    metavar="LIST",
    help="svg, pdf, png: one or more, with commas.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("figures"),
    show_default=True,
    metavar="DIR",
    help="Folder to write to, made where it is missing.",
)
@click.option("--list", "listing", is_flag=True, help="List the figures and stop.")
def figures(
    names: Sequence[str],
    scenario: Path | None,
    size: str,
    formats: str,
    out: Path,
    listing: bool,
) -> None:
    """Compute the figures of the gallery, or those of each NAME, and write them to a folder.

    Beside each figure its numbers as NAME.csv, and an index.html with captions and alt texts.
    Without a NAME, figures that the scenario cannot serve are left out.

    \b
    tailrace figures --list
    tailrace figures staircase cell-volumes --scenario mine.toml --size slide
    """
    from tailrace.scenario.target import StudyError
    from tailrace.studies.gallery import checked

    if listing:
        click.echo("\n".join(_list()))
        return
    chosen, forms = checked(names), _formats(formats)
    loaded = _loaded(scenario, chosen)
    make_folder(out)
    hung: list[Hung] = []
    left_out: list[str] = []
    with progress_bar("figures") as progress:
        for name in chosen:
            if progress is not None:
                progress(len(hung), len(chosen))
            try:
                hung.append(_hang(name, loaded, size, forms, out))
            except StudyError as refusal:
                if names:
                    raise
                left_out.append(str(refusal))
    for sentence in left_out:
        click.echo(f"left out: {sentence}", err=True)
    write_files(out, {out / "index.html": _index(hung, loaded)})
    for one in hung:
        click.echo(f"{one.exhibit.name}: {one.exhibit.caption}\n")
    click.echo(f"wrote {out / 'index.html'} and the files that it names", err=True)


def _list() -> Iterator[str]:
    from tailrace.studies.gallery import ENTRIES

    width = max(map(len, ENTRIES))
    for name, entry in ENTRIES.items():
        yield f"{name:{width}}  {entry.line}" + ("" if entry.of_instrument else " *")
    yield ""
    yield "* does not show an instrument: --scenario does not matter to it"


def _formats(text: str) -> tuple[str, ...]:
    chosen = [part.strip() for part in text.split(",")]
    for one in chosen:
        if one not in FORMATS:
            raise TailraceError(
                f"--format {text[:60]}: expected {', '.join(FORMATS)}, one or more with commas, "
                f"found {one[:20]!r}; leave it out"
            )
    return tuple(dict.fromkeys(chosen))


def _loaded(scenario: Path | None, chosen: Sequence[str]) -> "Scenario | None":
    """Read the scenario and tell for which figures it does not matter."""
    from tailrace.studies.gallery import ENTRIES

    if scenario is None:
        return None
    from tailrace.scenario.scenario import Scenario

    loaded = Scenario.load(scenario)
    without = [name for name in chosen if not ENTRIES[name].of_instrument]
    if without:
        click.echo(f"--scenario does not matter to: {', '.join(without)}", err=True)
    return loaded


def _hang(
    name: str, scenario: "Scenario | None", size: str, formats: Sequence[str], out: Path
) -> "Hung":
    """Compute one figure, draw it and write its files."""
    from tailrace.figures.gallery import draw
    from tailrace.report.gallery import Hung, as_csv
    from tailrace.studies.gallery import compute

    made = compute(name, scenario)
    picture = draw(made, size)
    contents = {form: getattr(picture, form)() for form in formats}
    contents["csv"] = as_csv(made.table)
    files = {out / f"{name}.{ending}": content for ending, content in contents.items()}
    written = write_files(out, files)
    return Hung(exhibit=made, picture=picture, files=tuple(path.name for path in written))


def _index(hung: "Sequence[Hung]", scenario: "Scenario | None") -> bytes:
    from tailrace.report.gallery import as_index

    shown = "The instrument shown is invented, and typical of the trade."
    if scenario is not None:
        shown = f"Where an instrument is shown, it is that of “{scenario.title}”."
    return as_index(hung, shown, own_version()).encode()
